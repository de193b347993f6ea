"""Meetings: read by those in them; made, changed, called off and reinstated by who runs them."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import User
from bookings import access, clock
from bookings.api.addresses import location
from bookings.api.conditions import NEEDED, etag, version_asked
from bookings.api.door import Result, answered
from bookings.api.meeting_serializers import (
    LeftOutOutput,
    MeetingChange,
    MeetingForm,
    MeetingOutput,
    MeetingsAsked,
    ReasonForm,
    ReinstatedOutput,
    shown_meetings,
    take_minimum,
)
from bookings.api.named import open_offering, whose_time
from bookings.api.operation import operation
from bookings.api.output import paged
from bookings.api.paging import page
from bookings.api.time_fields import start_instant
from bookings.api.views import ApiView, asked, body, me
from bookings.domain.scopes import PEOPLE, Scope
from bookings.models import Meeting
from bookings.operations.calling_off import call_off
from bookings.operations.meetings import change_meeting, create_meeting
from bookings.operations.reinstating import reinstate_meeting


class Meetings(ApiView):
    """Group meetings, and the one-on-ones one is in or teaches."""

    queries = {"GET"}
    bodies = {"POST"}

    @operation(
        "meetings",
        scope=Scope.READ_CALENDAR,
        parameters=[MeetingsAsked],
        responses=paged(MeetingOutput),
    )
    def get(self, request: Request) -> Response:
        wanted, user = asked(request, MeetingsAsked), me(request)
        rows = MeetingsAsked.narrowed(access.meetings_of(user, now=clock.now()), wanted, user)
        return page(request, MeetingsAsked, rows, lambda found: shown_meetings(found, user))

    @operation(
        "make_meeting",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(404, 409),
        request=MeetingForm,
        responses={201: MeetingOutput},
    )
    def post(self, request: Request) -> HttpResponseBase:
        sent, user = body(request, MeetingForm), me(request)
        starts_at = start_instant(sent["starts_at"], sent.pop("time_zone", None))
        minimum = take_minimum(sent)

        def act(now: datetime) -> Result:
            meeting = create_meeting(
                actor=user,
                **{
                    **sent,
                    "offering": open_offering(sent["offering"]),
                    "instructor": whose_time(user, sent),
                    "starts_at": starts_at,
                },
                minimum=minimum,
                now=now,
            )
            return meeting_result(meeting, user, status=201)

        return answered(request, act)


class OneMeeting(ApiView):
    """One meeting."""

    bodies = {"PATCH"}
    if_match = {"PATCH": NEEDED}

    @operation("meeting", scope=Scope.READ_CALENDAR, headers=("ETag",), responses=MeetingOutput)
    def get(self, request: Request, pk: int) -> Response:
        meeting = access.access_meeting(me(request), pk, now=clock.now())
        return Response(
            shown_meetings([meeting], me(request))[0],
            headers={"ETag": etag("meeting", pk, meeting.version)},
        )

    @operation(
        "change_meeting",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(409,),
        request=MeetingChange,
        responses=MeetingOutput,
    )
    def patch(self, request: Request, pk: int) -> HttpResponseBase:
        sent = body(request, MeetingChange)
        time_zone = sent.pop("time_zone", None)
        if "starts_at" in sent:
            sent["starts_at"] = start_instant(sent["starts_at"], time_zone)

        return changed_meeting(request, pk, change_meeting, **sent)


class CallingOff(ApiView):
    """The meeting does not happen: everybody in it is told once. One-on-ones too."""

    bodies = {"POST"}
    if_match = {"POST": NEEDED}

    @operation(
        "call_off",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(409,),
        request=ReasonForm,
        responses=MeetingOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        sent = body(request, ReasonForm)
        return changed_meeting(request, pk, call_off, why=sent["reason"])


class Reinstating(ApiView):
    """Reinstates a meeting that was called off; one-on-ones too.

    Those who were in it or waited for it are so again, and each is told once.
    """

    if_match = {"POST": NEEDED}

    @operation(
        "reinstate_meeting",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(409,),
        request=None,
        responses=ReinstatedOutput,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        user = me(request)

        def act(now: datetime) -> Result:
            meeting, version = taught(request, pk)
            done = reinstate_meeting(actor=user, meeting=meeting, version=version, now=now)
            left_out = LeftOutOutput.of_all(done.left_out, reader=user)
            shown = meeting_result(done.meeting, user)
            return Result(shown.status, {**shown.data, "left_out": left_out}, shown.headers)

        return answered(request, act)


def taught(request: Request, pk: int) -> tuple[Meeting, int | None]:
    """A meeting the caller runs, and the version that If-Match names."""
    meeting = access.access_taught_meeting(me(request), pk, now=clock.now())
    return meeting, version_asked(request, "meeting", pk, meeting.version)


def changed_meeting(
    request: Request, pk: int, change: Callable[..., Meeting], **sent: Any
) -> HttpResponseBase:
    """Does `change` to the meeting that If-Match names, and answers with the changed meeting."""
    user = me(request)

    def act(now: datetime) -> Result:
        meeting, version = taught(request, pk)
        done = change(actor=user, meeting=meeting, version=version, now=now, **sent)
        return meeting_result(done, user)

    return answered(request, act)


def meeting_result(meeting: Meeting, user: User, *, status: int = 200) -> Result:
    """A meeting just written, as it now stands."""
    fresh = access.access_meeting(user, meeting.pk, now=clock.now())
    headers = {
        **location("meetings", fresh.pk),
        "ETag": etag("meeting", fresh.pk, fresh.version),
    }
    return Result(status, shown_meetings([fresh], user)[0], headers)
