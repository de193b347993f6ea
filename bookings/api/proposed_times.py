"""Times that an instructor proposes: made, read, taken, declined and taken back."""

from collections.abc import Callable
from datetime import datetime
from functools import partial
from typing import Any

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import User
from bookings import access, clock
from bookings.api.addresses import location
from bookings.api.booking_serializers import BookingOutput
from bookings.api.bookings import booking_result
from bookings.api.conditions import NEEDED, etag, version_asked
from bookings.api.door import Result, answered
from bookings.api.named import named_instructor, named_move_request, open_offering, pointing_at
from bookings.api.operation import operation
from bookings.api.output import paged
from bookings.api.paging import page
from bookings.api.proposed_serializers import (
    PROPOSAL,
    ProposalsAsked,
    ProposedTimesOutput,
    TakingForm,
)
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.scopes import PEOPLE
from bookings.models import ProposedTimes
from bookings.operations.proposed_times import (
    decline_times,
    propose_other_times,
    propose_times,
    withdraw_times,
)
from bookings.operations.taking_times import take_time
from bookings.queries.proposed_times import with_times


class Proposals(ApiView):
    """Proposals to the reader's students, and those that the reader has made."""

    queries = {"GET"}
    bodies = {"POST"}

    @operation(
        "proposals", scope=PEOPLE, parameters=[ProposalsAsked], responses=paged(ProposedTimesOutput)
    )
    def get(self, request: Request) -> Response:
        wanted, user = asked(request, ProposalsAsked), me(request)
        rows = with_times(access.proposals_of(user, now=clock.now()))
        rows = ProposalsAsked.narrowed(rows, wanted, user)
        shown = partial(ProposedTimesOutput.of_all, reader=user)
        return page(request, ProposalsAsked, rows, shown)

    @operation(
        "propose_times",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(403, 404, 409),
        request=PROPOSAL.described,
        responses={201: ProposedTimesOutput},
    )
    def post(self, request: Request) -> HttpResponseBase:
        """Holds the times, and asks the family which one suits."""
        sent, user = PROPOSAL.read(request), me(request)
        act = _propose_other if "move_request" in sent else _propose
        return answered(request, lambda now: _result(act(user, sent, now), user, status=201))


def _propose(user: User, sent: dict[str, Any], now: datetime) -> ProposedTimes:
    with pointing_at("student"):
        student, oneself = access.access_taught_student(user, sent["student"], now=now)
    access.require_oneself(oneself, sent["instructor"])
    return propose_times(
        actor=user,
        student=student,
        offering=open_offering(sent["offering"]),
        instructor=named_instructor(sent["instructor"]),
        starts=sent["starts"],
        now=now,
    )


def _propose_other(user: User, sent: dict[str, Any], now: datetime) -> ProposedTimes:
    asked_for = named_move_request(user, sent, now=now)
    return propose_other_times(actor=user, request=asked_for, starts=sent["starts"], now=now)


class OneProposal(ApiView):
    """One proposal."""

    @operation("proposal", scope=PEOPLE, headers=("ETag",), responses=ProposedTimesOutput)
    def get(self, request: Request, pk: int) -> Response:
        user = me(request)
        row = access.access_proposal(user, pk, now=clock.now())
        return Response(
            ProposedTimesOutput.of(row, reader=user),
            headers={"ETag": etag("proposal", pk, row.version)},
        )


class TakingTime(ApiView):
    """Takes one of the times. The others end, and the lesson is booked, or has moved."""

    bodies = {"POST"}
    if_match = {"POST": NEEDED}

    @operation(
        "take_time",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(409,),
        request=TakingForm,
        responses=BookingOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, TakingForm), me(request)

        def act(now: datetime) -> Result:
            proposal = access.access_proposal_to_answer(user, pk, now=now)
            taken = take_time(
                actor=user,
                proposal=proposal,
                booking_id=sent["booking"],
                version=_version(request, proposal),
                now=now,
            )
            return booking_result(taken, user)

        return answered(request, act)


class DecliningTimes(ApiView):
    """None of the times suits."""

    if_match = {"POST": NEEDED}

    @operation(
        "decline_times",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(409,),
        request=None,
        responses=ProposedTimesOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        return _ended(request, pk, access.access_proposal_to_answer, decline_times)


class WithdrawingTimes(ApiView):
    """Takes the times back for the instructor, whose hours are free again."""

    if_match = {"POST": NEEDED}

    @operation(
        "withdraw_times",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(409,),
        request=None,
        responses=ProposedTimesOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        return _ended(request, pk, access.access_proposal_to_withdraw, withdraw_times)


def _ended(
    request: Request,
    pk: int,
    access_it: Callable[..., ProposedTimes],
    end: Callable[..., ProposedTimes],
) -> HttpResponseBase:
    """Ends a proposal that `access_it` finds for this person."""
    user = me(request)

    def act(now: datetime) -> Result:
        proposal = access_it(user, pk, now=now)
        version = _version(request, proposal)
        return _result(end(actor=user, proposal=proposal, version=version, now=now), user)

    return answered(request, act)


def _version(request: Request, proposal: ProposedTimes) -> int | None:
    return version_asked(request, "proposal", proposal.pk, proposal.version)


def _result(proposal: ProposedTimes, user: User, *, status: int = 200) -> Result:
    """A proposal just written, as it now stands."""
    headers = {
        **location("proposals", proposal.pk),
        "ETag": etag("proposal", proposal.pk, proposal.version),
    }
    return Result(status, ProposedTimesOutput.of(proposal, reader=user), headers)
