"""Statements of hours: read by their instructor, issued and corrected by admins."""

from datetime import datetime

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from bookings import access
from bookings.api.addresses import location
from bookings.api.conditions import NEEDED, etag, version_asked
from bookings.api.door import Result, answered
from bookings.api.named import whose_time
from bookings.api.operation import operation
from bookings.api.output import paged
from bookings.api.paging import page
from bookings.api.statement_serializers import (
    StatementForm,
    StatementOutput,
    StatementsAsked,
    StatementShownOutput,
)
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.scopes import PEOPLE, Scope
from bookings.operations.statements import correct_statement, issue_statement
from bookings.queries.statements import StatementShown, listed, statement_shown


class Statements(ApiView):
    """The statements that one may read."""

    queries = {"GET"}
    bodies = {"POST"}

    @operation(
        "statements",
        scope=Scope.READ_ACCOUNTS,
        refused=(403, 404),
        parameters=[StatementsAsked],
        responses=paged(StatementOutput),
    )
    def get(self, request: Request) -> Response:
        wanted, user = asked(request, StatementsAsked), me(request)
        named = whose_time(user, wanted).pk if "instructor" in wanted else None
        rows = listed(access.statements_of(user), named)
        rows = StatementsAsked.narrowed(rows, wanted, user)
        return page(request, StatementsAsked, rows, StatementOutput.of_all)

    @operation(
        "issue_statement",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(404, 409),
        request=StatementForm,
        responses={201: StatementShownOutput},
    )
    def post(self, request: Request) -> HttpResponseBase:
        user = me(request)
        access.require_admin(user)
        sent = body(request, StatementForm)

        def act(now: datetime) -> Result:
            issued = issue_statement(
                actor=user,
                instructor=whose_time(user, sent),
                first_on=sent["first_on"],
                last_on=sent["last_on"],
                now=now,
            )
            shown = statement_shown(issued)
            headers = {**location("statements", issued.pk), **_tag(shown)}
            return Result(201, StatementShownOutput.of(shown), headers)

        return answered(request, act)


class OneStatement(ApiView):
    """One statement."""

    @operation(
        "statement",
        scope=Scope.READ_ACCOUNTS,
        headers=("ETag",),
        refused=(403,),
        responses=StatementShownOutput,
    )
    def get(self, request: Request, pk: int) -> Response:
        shown = statement_shown(access.access_statement(me(request), pk))
        return Response(StatementShownOutput.of(shown), headers=_tag(shown))


class CorrectingStatement(ApiView):
    """Adds the lines that differ. What was issued stays as it is."""

    if_match = {"POST": NEEDED}

    @operation(
        "correct_statement",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(409,),
        request=None,
        responses=StatementShownOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        user = me(request)
        access.require_admin(user)

        def act(now: datetime) -> Result:
            found = access.access_statement(user, pk)
            shown = statement_shown(found)
            version = version_asked(request, "statement", pk, shown.found.version)
            correct_statement(actor=user, statement=found, version=version, now=now)
            corrected = statement_shown(found)
            headers = {**location("statements", pk), **_tag(corrected)}
            return Result(200, StatementShownOutput.of(corrected), headers)

        return answered(request, act)


def _tag(shown: StatementShown) -> dict[str, str]:
    """The tag of what is written and of what differs."""
    return {"ETag": etag("statement", shown.statement.pk, shown.found.version)}
