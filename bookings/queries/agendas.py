"""The order of players of a masterclass: as it was published, and as it would be worked out now."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from accounts.models import Student
from bookings.domain.errors import Refused
from bookings.domain.planning.agenda import (
    CLOSING_MINUTES,
    TURN_MINUTES,
    Agenda,
    Early,
    Player,
    agenda,
)
from bookings.domain.vocabulary import PlaceKind
from bookings.models import Booking, Meeting


@dataclass(frozen=True, slots=True)
class Turn:
    """One player's turn, [starts_at, ends_at). `number` counts from 1; `early` is a sentence for
    whoever plays before a lower level, else empty.
    """

    booking: Booking
    number: int
    starts_at: datetime
    ends_at: datetime
    early: str

    @property
    def minutes(self) -> int:
        return int((self.ends_at - self.starts_at).total_seconds()) // 60


@dataclass(frozen=True, slots=True)
class PublishedAgenda:
    """The order as the roster reads it. `players` and `listeners` hold places, the first booked
    first. `turns` are those of players in the published order who are still in; `ends_at` is the
    end of the meeting by the order, None without a turn.
    """

    meeting: Meeting
    turns: Sequence[Turn]
    players: Sequence[Booking]
    listeners: Sequence[Booking]
    ends_at: datetime | None

    @property
    def people(self) -> list[Student]:
        """Everybody who holds a place."""
        return [booking.student for booking in (*self.players, *self.listeners)]

    @property
    def without_turn(self) -> list[Booking]:
        """Players who are not in the published order."""
        return [booking for booking in self.players if booking.turn is None]

    @property
    def is_old(self) -> bool:
        """Whether the order that was published does not fit the roster any more."""
        if not self.turns:
            return False
        numbers = [turn.booking.turn for turn in self.turns]
        is_complete = numbers == list(range(1, len(self.players) + 1))
        return not is_complete or any(
            turn.booking.leaves_by is not None and turn.ends_at > turn.booking.leaves_by
            for turn in self.turns
        )


def agenda_of(meeting: Meeting) -> PublishedAgenda:
    """The published order of a masterclass: one query."""
    held = Booking.objects.in_meetings([meeting]).held()
    rows = list(held.select_related("student__user", "intake").order_by("booked_at", "pk"))
    players = [row for row in rows if row.place_kind == PlaceKind.PLAYER]
    turns = _published(meeting, players)
    closing = timedelta(minutes=CLOSING_MINUTES)
    return PublishedAgenda(
        meeting=meeting,
        turns=turns,
        players=players,
        listeners=[row for row in rows if row.place_kind == PlaceKind.LISTENER],
        ends_at=turns[-1].ends_at + closing if turns else None,
    )


def _published(meeting: Meeting, players: Sequence[Booking]) -> list[Turn]:
    """The turns of the published order, one after the other from the start of the meeting."""
    turns: list[Turn] = []
    at = meeting.starts_at
    in_order = [row for row in players if row.turn is not None]
    for row in sorted(in_order, key=lambda row: row.turn or 0):
        ends_at = at + timedelta(minutes=minutes_of(row))
        early = Early(row.turn_early).sentence if row.turn_early else ""
        turns.append(Turn(row, len(turns) + 1, at, ends_at, early))
        at = ends_at
    return turns


def turns_of(order: Agenda, players: Sequence[Booking]) -> list[Turn]:
    """The turns of an order that is worked out and not published."""
    by_student = {booking.student_id: booking for booking in players}
    return [
        Turn(
            by_student[turn.student_id],
            number,
            turn.starts_at,
            turn.ends_at,
            turn.early.sentence if turn.early else "",
        )
        for number, turn in enumerate(order.turns, start=1)
    ]


def minutes_of(booking: Booking) -> int:
    """How long the player's turn is."""
    return booking.turn_minutes or TURN_MINUTES


def work_out(meeting: Meeting, players: Sequence[Booking]) -> Agenda:
    """The best order of these players, the first booked first: one query. It may end after the
    meeting.

    Refused: as `agenda`; whoever cannot be kept is named, for an admin.
    """
    opened = _opened_last_time(meeting)
    try:
        return agenda(
            [
                Player(
                    booking.student_id,
                    booking.student.level,
                    minutes_of(booking),
                    booking.leaves_by,
                    opened_last_time=booking.student_id == opened,
                )
                for booking in players
            ],
            meeting.starts_at,
        )
    except Refused as refusal:
        names = {booking.student_id: booking.student.full_name for booking in players}
        raise _naming(refusal, names) from None


def _naming(refusal: Refused, names: Mapping[int, str]) -> Refused:
    """The refusal with the names of those who cannot be kept."""
    late = refusal.data.get("late")
    if late is None:
        return refusal
    who = ", ".join(names[pk] for pk in late)
    return Refused(refusal.code, f"Cannot leave in time: {who}. {refusal.detail}", **refusal.data)


def _opened_last_time(meeting: Meeting) -> int | None:
    """The student who played first in the offering's last masterclass; None without an order."""
    earlier = Meeting.objects.not_called_off().filter(
        offering=meeting.offering_id, starts_at__lt=meeting.starts_at
    )
    last = earlier.order_by("-starts_at", "-pk").values("pk")[:1]
    played = Booking.objects.held().filter(meeting__in=last, turn=1)
    return played.values_list("student_id", flat=True).first()
