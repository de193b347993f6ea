"""The order of players of a masterclass: read by its roster, published by admins."""

from datetime import datetime
from typing import Any

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.models import User
from bookings import access, clock
from bookings.api.booking_serializers import BookingOutput
from bookings.api.bookings import booking_result
from bookings.api.changes import own_version
from bookings.api.conditions import NEEDED, etag, version_asked
from bookings.api.door import Result, answered
from bookings.api.fields import Id, Strict, Whole
from bookings.api.operation import operation
from bookings.api.output import Output, Utc, local
from bookings.api.time_fields import Instant
from bookings.api.views import ApiView, body, me
from bookings.domain.errors import Refused
from bookings.domain.planning.agenda import MOST_MINUTES, MOST_PLAYERS
from bookings.domain.scopes import PEOPLE, Scope
from bookings.models import Meeting
from bookings.operations.agendas import PlayerSaid, publish_agenda, say_leaves_by
from bookings.queries.agendas import PublishedAgenda, Turn, agenda_of


class LeavesByForm(Strict):
    """By when the player's turn has to be over; null where they can stay to the end."""

    leaves_by = Instant(allow_null=True)


class PlayerForm(LeavesByForm):
    """One player: their booking, how long they play, by when they must leave."""

    booking = Id()
    minutes = Whole(min_value=1, max_value=MOST_MINUTES)


class AgendaForm(Strict):
    """What is said of some or all players; the others keep what is stored, at first 15 minutes."""

    players: Any = serializers.ListSerializer(child=PlayerForm(), max_length=MOST_PLAYERS)

    def validate_players(self, players: list[dict[str, Any]]) -> list[dict[str, Any]]:
        said = {"booking": ["This booking is named twice: name it once."]}
        seen: set[int] = set()
        errors = []
        for player in players:
            errors.append(said if player["booking"] in seen else {})
            seen.add(player["booking"])
        if any(errors):
            raise ValidationError(errors)
        return players


class TurnOutput(Output):
    """One turn. `booking` is null to whoever may not read it, and `recordings` are empty to them;
    `early` says why a player comes before a lower level, else it is empty.
    """

    number = serializers.IntegerField()
    name = serializers.CharField()
    booking = serializers.IntegerField(allow_null=True)
    minutes = serializers.IntegerField()
    starts_at = Utc()
    ends_at = Utc()
    local_start = serializers.DateTimeField()
    early = serializers.CharField()
    pieces = serializers.CharField()
    recordings = serializers.ListField(child=serializers.CharField())

    def get_pieces(self, turn: Turn) -> str:
        intake = getattr(turn.booking, "intake", None)
        return intake.pieces if intake else ""

    def get_recordings(self, turn: Turn) -> list[str]:
        intake = getattr(turn.booking, "intake", None)
        is_known = turn.booking.student_id in self.context["known"]
        return list(intake.recordings) if intake and is_known else []

    def get_name(self, turn: Turn) -> str:
        names: dict[int, str] = self.context["names"]
        return names[turn.booking.student_id]

    def get_booking(self, turn: Turn) -> int | None:
        is_known = turn.booking.student_id in self.context["known"]
        return turn.booking.pk if is_known else None

    def get_local_start(self, turn: Turn) -> str:
        return local(turn.starts_at, self.reader_zone)


class AgendaOutput(Output):
    """The order that was published, without turns before that. `is_old` says that it does not fit
    the roster any more; `without_turn` names players who are not in it. `ends_at` is the end of the
    meeting by this order.
    """

    turns = TurnOutput(many=True)
    without_turn = serializers.ListField(child=serializers.CharField())
    is_old = serializers.BooleanField()
    ends_at = Utc(allow_null=True)

    def get_without_turn(self, found: PublishedAgenda) -> list[str]:
        names: dict[int, str] = self.context["names"]
        return [names[booking.student_id] for booking in found.without_turn]


class OneAgenda(ApiView):
    """The order of players of a masterclass, for those who hold a place in it and who run it."""

    bodies = {"PUT"}
    if_match = {"PUT": NEEDED}

    @operation("agenda", scope=Scope.READ_CALENDAR, headers=("ETag",), responses=AgendaOutput)
    def get(self, request: Request, pk: int) -> Response:
        meeting = access.access_agenda(me(request), pk, now=clock.now())
        return Response(_shown(meeting, me(request)), headers=_tag(meeting))

    @operation(
        "publish_agenda",
        scope=PEOPLE,
        headers=("ETag",),
        refused=(403, 409),
        request=AgendaForm,
        responses=AgendaOutput,
    )
    def put(self, request: Request, pk: int) -> HttpResponseBase:
        """Works the order out and publishes it. Each player's family gets one email."""
        sent, user = body(request, AgendaForm)["players"], me(request)
        said = {row["booking"]: PlayerSaid(row["minutes"], row["leaves_by"]) for row in sent}

        def act(now: datetime) -> Result:
            meeting = access.access_agenda(user, pk, now=now)
            version = version_asked(request, "meeting", pk, meeting.version)
            try:
                done = publish_agenda(
                    actor=user, meeting=meeting, said=said, version=version, now=now
                )
            except Refused as refusal:
                raise _at_players(refusal, list(said)) from None
            return Result(200, _shown(done, user), _tag(done))

        return answered(request, act)


class LeavingBy(ApiView):
    """By when a player in a masterclass has to leave."""

    bodies = {"PUT"}
    if_match = {"PUT": NEEDED}

    @operation(
        "say_leaves_by",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(403, 409),
        request=LeavesByForm,
        responses=BookingOutput,
    )
    def put(self, request: Request, pk: int) -> HttpResponseBase:
        leaves_by, user = body(request, LeavesByForm)["leaves_by"], me(request)

        def act(now: datetime) -> Result:
            booking, version = own_version(request, pk)
            done = say_leaves_by(
                actor=user, booking=booking, leaves_by=leaves_by, version=version, now=now
            )
            return booking_result(done, user)

        return answered(request, act)


def _shown(meeting: Meeting, user: User) -> dict[str, Any]:
    """The order with the names of the room; `known` are the students whose bookings this person may
    read.
    """
    found, now = agenda_of(meeting), clock.now()
    names = access.names_in_a_room(found.people, now)
    known = {student.pk for student in access.own_students(user, now=now)}
    if access.may_run(user, meeting):
        known = set(names)
    return AgendaOutput.of(found, reader=user, names=names, known=known)


def _tag(meeting: Meeting) -> dict[str, str]:
    return {"ETag": etag("meeting", meeting.pk, meeting.version)}


def _at_players(refusal: Refused, named: list[int]) -> Refused:
    """The refusal, with an error at each player whose booking holds no place here. Such a booking
    is answered like any unknown id.
    """
    strangers = refusal.data.get("strangers")
    if strangers is None:
        return refusal
    errors = [
        {"detail": "This booking is no player's here.", "pointer": f"#/players/{place}/booking"}
        for place, pk in enumerate(named)
        if pk in strangers
    ]
    return Refused("not-found", refusal.detail, errors=errors)
