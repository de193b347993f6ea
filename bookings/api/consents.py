"""The consents of a guardian: one for each child, given by the mailed form and taken back here."""

from datetime import datetime

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import Guardianship
from bookings.api.conditions import NEEDED, etag_of, names
from bookings.api.door import Result, answered
from bookings.api.fields import AskedId, Strict, TrueOrFalse
from bookings.api.operation import operation
from bookings.api.output import Output, Utc, paged
from bookings.api.paging import PageAsked, page
from bookings.api.references import a_student
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.scopes import PEOPLE
from bookings.operations.guardians import withdraw_consent
from bookings.queries.guardians import guardianships_of, own_guardianship


class ConsentOutput(Output):
    """`given_at` and `wording` are null while no consent of yours is on file."""

    id = serializers.IntegerField()
    student = a_student()
    given_at = Utc(allow_null=True, source="consent_at")
    wording = serializers.CharField(allow_null=True)

    def get_wording(self, row: Guardianship) -> str | None:
        return row.consent_wording or None


class ConsentsAsked(PageAsked):
    """The one of one child."""

    order = ("id",)
    in_order = "In the order in which you became their guardian."
    narrows = {"student": "student"}
    student = AskedId(required=False)


class Consents(ApiView):
    """Your own, whether given or not."""

    queries = {"GET"}

    @operation("consents", scope=PEOPLE, parameters=[ConsentsAsked], responses=paged(ConsentOutput))
    def get(self, request: Request) -> Response:
        wanted, user = asked(request, ConsentsAsked), me(request)
        rows = ConsentsAsked.narrowed(guardianships_of(user), wanted, user)
        return page(request, ConsentsAsked, rows, ConsentOutput.of_all)


class OneConsent(ApiView):
    """Your consent to live lessons of one child."""

    @operation("consent", scope=PEOPLE, headers=("ETag",), responses=ConsentOutput)
    def get(self, request: Request, pk: int) -> Response:
        shown = ConsentOutput.of(own_guardianship(me(request), pk))
        return Response(shown, headers={"ETag": etag_of("consent", pk, shown)})


class WithdrawalForm(Strict):
    """If lessons of a minor end with the consent, `end_bookings` has to be true.

    Otherwise 409 `has-bookings` lists them.
    """

    end_bookings = TrueOrFalse(required=False, default=False)


class WithdrawingConsent(ApiView):
    """Withdraws your consent.

    Without the consent of another guardian nothing can be booked for a minor, and their lessons
    ahead are cancelled free of charge.
    """

    bodies = {"POST"}
    if_match = {"POST": NEEDED}

    @operation(
        "withdraw_consent",
        scope=PEOPLE,
        headers=("ETag",),
        refused=(409,),
        request=WithdrawalForm,
        responses=ConsentOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, WithdrawalForm), me(request)

        def act(now: datetime) -> Result:
            row = own_guardianship(user, pk)
            names(request, etag_of("consent", pk, ConsentOutput.of(row)))
            row = withdraw_consent(actor=user, guardianship=row, now=now, **sent)
            shown = ConsentOutput.of(row)
            return Result(200, shown, {"ETag": etag_of("consent", pk, shown)})

        return answered(request, act)
