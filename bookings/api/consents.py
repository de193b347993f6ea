"""The consents of a guardian: one for each child, given by the mailed form and taken back here."""

from datetime import datetime
from typing import Any

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import Guardianship
from bookings.api.calls import Call, body, me
from bookings.api.conditions import NEEDED, etag_of, names
from bookings.api.door import Answer, write
from bookings.api.fields import Strict, TrueOrFalse, utc
from bookings.api.operation import operation
from bookings.api.references import Named
from bookings.operations.guardians import withdraw_consent
from bookings.queries.guardians import guardianships_of, own_guardianship


class ConsentShape(serializers.Serializer):
    """`given_at` and `wording` are null while no consent of yours is on file."""

    id = serializers.IntegerField()
    student = Named()
    given_at = serializers.DateTimeField(allow_null=True)
    wording = serializers.CharField(allow_null=True)


class ConsentList(serializers.Serializer):
    """One for each child."""

    results = ConsentShape(many=True)


class Consents(Call):
    """Your own, whether given or not."""

    @operation("consents", responses=ConsentList)
    def get(self, request: Request) -> Response:
        return Response({"results": [_shown(row) for row in guardianships_of(me(request))]})


class OneConsent(Call):
    """Your consent to live lessons of one child."""

    @operation("consent", headers=("ETag",), responses=ConsentShape)
    def get(self, request: Request, pk: int) -> Response:
        shown = _shown(own_guardianship(me(request), pk))
        return Response(shown, headers={"ETag": etag_of("consent", pk, shown)})


class WithdrawalForm(Strict):
    """Where lessons of a minor end with it, 409 `has-bookings` lists them until `end_bookings` is true."""

    end_bookings = TrueOrFalse(required=False, default=False)


class WithdrawingConsent(Call):
    """Takes it back. Without another guardian's consent nothing can be booked for a minor, and what lies ahead ends, free of charge."""

    bodies = {"POST"}
    if_match = {"POST": NEEDED}

    @operation(
        "withdraw_consent",
        headers=("ETag",),
        refused=(409,),
        request=WithdrawalForm,
        responses=ConsentShape,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, WithdrawalForm), me(request)

        def act(now: datetime) -> Answer:
            row = own_guardianship(user, pk)
            names(request, etag_of("consent", pk, _shown(row)))
            row = withdraw_consent(actor=user, guardianship=row, now=now, **sent)
            shown = _shown(row)
            return Answer(200, shown, {"ETag": etag_of("consent", pk, shown)})

        return write(request, act)


def _shown(row: Guardianship) -> dict[str, Any]:
    return {
        "id": row.pk,
        "student": {"id": row.student_id, "name": row.student.full_name},
        "given_at": utc(row.consent_at) if row.consent_at is not None else None,
        "wording": row.consent_wording or None,
    }
