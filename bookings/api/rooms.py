"""The online room of an instructor: read, and changed for every meeting ahead."""

from datetime import datetime

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import Instructor
from bookings import access
from bookings.api.conditions import NEEDED, etag_of, names
from bookings.api.door import Result, answered
from bookings.api.fields import Strict
from bookings.api.meeting_serializers import MeetingOutput, RoomAddress, shown_meetings
from bookings.api.operation import operation
from bookings.api.output import Output
from bookings.api.references import an_instructor
from bookings.api.views import ApiView, body, me
from bookings.domain.scopes import PEOPLE
from bookings.operations.rooms import change_room


class RoomForm(Strict):
    """The new address. With `{token}` in it, once and after the name of the server, each meeting
    gets an address of its own with a random text in that place.
    """

    room = RoomAddress()


class RoomOutput(Output):
    """Where an instructor's meetings are held online."""

    instructor = an_instructor(source="*")
    room = serializers.CharField()


class ChangedRoomOutput(RoomOutput):
    """The room, and the meetings ahead that are held there from now on."""

    meetings_ahead = MeetingOutput(many=True)


class Room(ApiView):
    """An instructor's own room; an admin reads and changes anybody's."""

    bodies = {"PUT"}
    if_match = {"PUT": NEEDED}

    @operation("room", scope=PEOPLE, headers=("ETag",), responses=RoomOutput)
    def get(self, request: Request, pk: int) -> Response:
        instructor = access.access_instructor(me(request), pk)
        return Response(RoomOutput.of(instructor), headers=_tag(instructor))

    @operation(
        "change_room",
        scope=PEOPLE,
        headers=("ETag",),
        request=RoomForm,
        responses=ChangedRoomOutput,
    )
    def put(self, request: Request, pk: int) -> HttpResponseBase:
        """Every one-on-one ahead takes the new address, and group meetings that were held in the
        old room. A room with `{token}` gives each of them another one.

        Each family gets one email.
        """
        sent, user = body(request, RoomForm), me(request)

        def act(now: datetime) -> Result:
            instructor = access.access_instructor(user, pk)
            seen = instructor.room if names(request, _tag(instructor)["ETag"]) else None
            changed = change_room(
                actor=user, instructor=instructor, room=sent["room"], seen=seen, now=now
            )
            meetings = shown_meetings(changed.meetings, user)
            shown = {**RoomOutput.of(changed.instructor), "meetings_ahead": meetings}
            return Result(200, shown, _tag(changed.instructor))

        return answered(request, act)


def _tag(instructor: Instructor) -> dict[str, str]:
    return {"ETag": etag_of("room", instructor.pk, instructor.room)}
