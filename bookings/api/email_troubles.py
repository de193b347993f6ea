"""Addresses to which no email leaves, for admins: listed, read, and sent to again."""

from datetime import datetime

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from bookings.api.door import Result, answered
from bookings.api.operation import operation
from bookings.api.output import Output, Utc, paged
from bookings.api.paging import PageAsked, page
from bookings.api.views import ApiView, asked, me
from bookings.domain.email_troubles import Trouble
from bookings.domain.scopes import PEOPLE
from bookings.operations.email_troubles import lift
from bookings.queries.email_troubles import all_troubles, one_trouble

REASONS = [trouble.value for trouble in Trouble]


class EmailTroubleOutput(Output):
    """An address that cannot be reached; emails to it wait. `account` is as in people/, null for
    an invitation.

    `reason`: it is `gone`, its trouble was `repeated` on several days, or its reader made a
    `complaint`. `status` is what its mail server said (RFC 3463), or empty.
    """

    id = serializers.IntegerField()
    email = serializers.EmailField(source="address")
    account = serializers.IntegerField(source="owner_id", allow_null=True)
    reason = serializers.ChoiceField(choices=REASONS, source="why")
    status = serializers.CharField()
    since = Utc(source="marked_at")


class EmailTroublesAsked(PageAsked):
    """All such addresses."""

    order = ("id",)
    in_order = "In the order in which they were first in trouble."


class EmailTroubles(ApiView):
    """For admins: addresses that cannot be reached."""

    queries = {"GET"}

    @operation(
        "email_troubles",
        scope=PEOPLE,
        refused=(403,),
        parameters=[EmailTroublesAsked],
        responses=paged(EmailTroubleOutput),
    )
    def get(self, request: Request) -> Response:
        asked(request, EmailTroublesAsked)
        rows = all_troubles(me(request))
        return page(request, EmailTroublesAsked, rows, EmailTroubleOutput.of_all)


class OneEmailTrouble(ApiView):
    """One such address."""

    @operation("email_trouble", scope=PEOPLE, refused=(403,), responses=EmailTroubleOutput)
    def get(self, request: Request, pk: int) -> Response:
        return Response(EmailTroubleOutput.of(one_trouble(me(request), pk).row))

    @operation("lift_email_trouble", scope=PEOPLE, refused=(403,), responses={204: None})
    def delete(self, request: Request, pk: int) -> HttpResponseBase:
        """Sends to the address again; what waits for it leaves. Speak with its reader first."""

        def act(now: datetime) -> Result:
            lift(actor=me(request), trouble_id=pk, now=now)
            return Result(204)

        return answered(request, act)
