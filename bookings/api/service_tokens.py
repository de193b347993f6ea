"""Service tokens for the school's other programs. The secret is shown once, when it is made."""

from datetime import datetime

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from bookings import clock
from bookings.api.addresses import location
from bookings.api.door import Result, answered
from bookings.api.fields import Line, Strict, Whole
from bookings.api.operation import operation
from bookings.api.output import Output, Utc, paged
from bookings.api.paging import PageAsked, page
from bookings.api.references import Named
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.scopes import LONGEST_LIFE, LONGEST_NAME, PEOPLE, Scope
from bookings.models import ServiceToken
from bookings.operations.service_tokens import make_service_token, revoke_service_token
from bookings.queries.service_tokens import all_service_tokens, one_service_token

SCOPES = [scope.value for scope in Scope]


class ServiceTokenForm(Strict):
    """`name` is the program's. The token works for so many `days`, with the rights of the admin who
    makes it, in the calls of its `scopes`.
    """

    name = Line(max_length=LONGEST_NAME)
    scopes = serializers.ListField(
        child=serializers.ChoiceField(choices=SCOPES), min_length=1, max_length=len(SCOPES)
    )
    days = Whole(min_value=1, max_value=LONGEST_LIFE.days)


class ServiceTokenOutput(Output):
    """A program's way in. `begins` are the first characters of its secret.

    `works` is false once it is revoked or has expired, or the `admin` who made it is one no more.
    """

    id = serializers.IntegerField()
    name = serializers.CharField()
    begins = serializers.CharField()
    scopes = serializers.ListField(child=serializers.ChoiceField(choices=SCOPES))
    admin = Named(source="made_by")
    made_at = Utc()
    expires_at = Utc()
    last_used_on = serializers.DateField(allow_null=True)
    revoked_at = Utc(allow_null=True)
    works = serializers.BooleanField()

    def get_works(self, token: ServiceToken) -> bool:
        return token.works(clock.now())


class NewServiceToken(ServiceTokenOutput):
    """The same with its secret, shown this once: send it as Authorization: Bearer."""

    secret = serializers.CharField()

    def get_secret(self, token: ServiceToken) -> str:
        return str(self.context["secret"])


class ServiceTokensAsked(PageAsked):
    """All service tokens."""

    order = ("-id",)
    in_order = "The newest first."


class ServiceTokens(ApiView):
    """For admins. No service token makes another one."""

    queries = {"GET"}
    bodies = {"POST"}

    @operation(
        "service_tokens",
        scope=PEOPLE,
        refused=(403,),
        parameters=[ServiceTokensAsked],
        responses=paged(ServiceTokenOutput),
    )
    def get(self, request: Request) -> Response:
        asked(request, ServiceTokensAsked)
        rows = all_service_tokens(me(request))
        return page(request, ServiceTokensAsked, rows, ServiceTokenOutput.of_all)

    @operation(
        "make_service_token",
        scope=PEOPLE,
        headers=("Location",),
        refused=(403, 409),
        request=ServiceTokenForm,
        responses={201: NewServiceToken},
    )
    def post(self, request: Request) -> HttpResponseBase:
        sent, user = body(request, ServiceTokenForm), me(request)

        def act(now: datetime) -> Result:
            token, secret = make_service_token(actor=user, now=now, **sent)
            shown = NewServiceToken.of(token, secret=secret)
            return Result(201, shown, location("service-tokens", token.pk), kept=False)

        return answered(request, act)


class OneServiceToken(ApiView):
    """One service token."""

    @operation("service_token", scope=PEOPLE, refused=(403,), responses=ServiceTokenOutput)
    def get(self, request: Request, pk: int) -> Response:
        return Response(ServiceTokenOutput.of(one_service_token(me(request), pk)))

    @operation("revoke_service_token", scope=PEOPLE, refused=(403, 409), responses={204: None})
    def delete(self, request: Request, pk: int) -> HttpResponseBase:
        """It works no more from now on, and stays in the list."""

        def act(now: datetime) -> Result:
            user = me(request)
            revoke_service_token(actor=user, token=one_service_token(user, pk), now=now)
            return Result(204)

        return answered(request, act)
