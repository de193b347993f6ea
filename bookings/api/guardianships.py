"""Guardianships as admins see them, and the bar on one: set, lifted and read by admins alone."""

from datetime import datetime
from typing import Any

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import Guardianship
from bookings.api.addresses import location
from bookings.api.conditions import NEEDED, etag_of, names
from bookings.api.door import Result, answered
from bookings.api.fields import AskedFlag, AskedId, Line, Strict, TrueOrFalse
from bookings.api.operation import operation
from bookings.api.output import Output, Utc, paged
from bookings.api.paging import PageAsked, page
from bookings.api.references import Named, a_student
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.scopes import PEOPLE
from bookings.operations.barring import LONGEST_REASON, bar_guardian, lift_bar
from bookings.operations.guardians import remove_guardian
from bookings.queries.guardians import all_guardianships, any_guardianship


class BarOutput(Output):
    """Since when a guardian is barred, by which admin, and why. `by` is null once that account is
    gone.
    """

    since = Utc(source="barred_at")
    by = Named(source="barred_by", allow_null=True)
    reason = serializers.CharField(source="barred_why")


class GuardianshipOutput(Output):
    """A guardian of one student. `bar` is null unless they are barred."""

    id = serializers.IntegerField()
    guardian = Named()
    student = a_student()
    consent_given_at = Utc(allow_null=True, source="consent_at")
    bar = BarOutput(allow_null=True)

    def get_bar(self, row: Guardianship) -> Guardianship | None:
        return row if row.barred_at is not None else None


class GuardianshipsAsked(PageAsked):
    """Those of one student, of one guardian's account, of guardians who are barred or who are
    not.
    """

    order = ("id",)
    in_order = "In the order in which they began."
    narrows = {"student": "student", "guardian": "guardian"}
    student = AskedId(required=False)
    guardian = AskedId(required=False)
    barred = AskedFlag(required=False)


class Guardianships(ApiView):
    """For admins: who answers for whom, barred guardians among them."""

    queries = {"GET"}

    @operation(
        "guardianships",
        scope=PEOPLE,
        refused=(403,),
        parameters=[GuardianshipsAsked],
        responses=paged(GuardianshipOutput),
    )
    def get(self, request: Request) -> Response:
        wanted, user = asked(request, GuardianshipsAsked), me(request)
        rows = all_guardianships(user, barred=wanted.get("barred"))
        rows = GuardianshipsAsked.narrowed(rows, wanted, user)
        return page(request, GuardianshipsAsked, rows, GuardianshipOutput.of_all)


class RemovalForm(Strict):
    """`reason` is a sentence for everybody whose lessons end, where nobody else has consented.

    Without it the request is refused if anything would end.
    """

    reason = Line(max_length=200, required=False)


class OneGuardianship(ApiView):
    """One guardianship, for admins."""

    bodies = {"DELETE"}
    if_match = {"DELETE": NEEDED}

    @operation(
        "guardianship",
        scope=PEOPLE,
        headers=("ETag",),
        refused=(403,),
        responses=GuardianshipOutput,
    )
    def get(self, request: Request, pk: int) -> Response:
        row = any_guardianship(me(request), pk)
        return Response(GuardianshipOutput.of(row), headers={"ETag": _tag(row)})

    @operation(
        "remove_guardian",
        scope=PEOPLE,
        refused=(403, 409),
        request=RemovalForm,
        responses={204: None},
    )
    def delete(self, request: Request, pk: int) -> HttpResponseBase:
        """Removes the guardian. One who is barred stays, so that nobody forgets the bar.

        409 `has-bookings` lists what would end, unless `reason` says why it does.
        """
        why, user = body(request, RemovalForm).get("reason"), me(request)

        def act(now: datetime) -> Result:
            remove_guardian(actor=user, guardianship=_as_read(request, pk), why=why, now=now)
            return Result(204)

        return answered(request, act)


class BarForm(Strict):
    """`reason` is for admins alone. If lessons of a minor end with the consent, `end_bookings` has
    to be true. Otherwise 409 `has-bookings` lists them.
    """

    reason = Line(max_length=LONGEST_REASON)
    end_bookings = TrueOrFalse(required=False, default=False)


class Barring(ApiView):
    """Bars a guardian from everything about one student.

    The answer is not stored: with an Idempotency-Key, a retry is told that it is done already.
    """

    bodies = {"POST"}
    if_match = {"POST": NEEDED}

    @operation(
        "bar_guardian",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(403, 409),
        request=BarForm,
        responses=GuardianshipOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, BarForm), me(request)

        def act(now: datetime) -> Result:
            row = _as_read(request, pk)
            barred = bar_guardian(
                actor=user,
                guardianship=row,
                why=sent["reason"],
                end_bookings=sent["end_bookings"],
                now=now,
            )
            return Result(200, *_shown(barred), kept=False)

        return answered(request, act)


class LiftingBar(ApiView):
    """Lifts the bar: the guardian answers for the student as before."""

    if_match = {"POST": NEEDED}

    @operation(
        "lift_bar",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(403, 409),
        request=None,
        responses=GuardianshipOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        user = me(request)

        def act(now: datetime) -> Result:
            row = _as_read(request, pk)
            return Result(200, *_shown(lift_bar(actor=user, guardianship=row, now=now)))

        return answered(request, act)


def _as_read(request: Request, pk: int) -> Guardianship:
    """The guardianship that If-Match names. Refused: "not-allowed", "not-found", "stale"."""
    row = any_guardianship(me(request), pk)
    names(request, _tag(row))
    return row


def _shown(row: Guardianship) -> tuple[dict[str, Any], dict[str, str]]:
    """The answer and its headers."""
    headers = {**location("guardianships", row.pk), "ETag": _tag(row)}
    return GuardianshipOutput.of(row), headers


def _tag(row: Guardianship) -> str:
    return etag_of("guardianship", row.pk, GuardianshipOutput.of(row))
