"""What the database holds at one moment, as plain rows: what a history starts from and what it must
end in.
"""

import time
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from datetime import UTC, datetime, timedelta
from functools import cached_property
from typing import Any, TypeVar

from tests.races.books_state import read_books
from tests.races.desk.book_rows import NO_BOOKS, Books


@dataclass(frozen=True, slots=True, kw_only=True)
class MeetingRow:
    """A meeting; until `held_until` its instructor is not free."""

    id: int
    instructor: int
    starts_at: datetime
    ends_at: datetime
    held_until: datetime
    live: bool = True
    flagged: bool = False
    one_on_one: bool = True
    places: int = 1
    taken: int = 0
    listener_places: int = 0
    listeners_taken: int = 0
    is_proposed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class BookingRow:
    """A booking, ended or not; `waiting_place` is the place in the queue that it was offered to."""

    id: int
    meeting: int
    student: int
    starts_at: datetime
    ends_at: datetime
    place_kind: str = "player"
    standing: str = "HELD"
    ended_why: str = ""
    answer_by: datetime | None = None
    waiting_place: int | None = None
    proposed: int | None = None
    decline_by: datetime | None = None

    @property
    def live(self) -> bool:
        return self.standing != "ENDED"


@dataclass(frozen=True, slots=True, kw_only=True)
class ProposalRow:
    """Times proposed to a student; taking one moves the booking `moves`, if there is one."""

    id: int
    student: int
    instructor: int
    answer_by: datetime
    ended_why: str = ""
    move_request: int | None = None
    moves: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WaitingRow:
    """A place in a queue, ended or not, and the booking that was offered to it."""

    id: int
    meeting: int
    student: int
    joined_at: datetime
    place_kind: str = "player"
    ended_why: str = ""
    offer: int | None = None

    @property
    def live(self) -> bool:
        return self.ended_why == ""

    @property
    def order(self) -> tuple[datetime, int]:
        """First in line is least."""
        return self.joined_at, self.id


@dataclass(frozen=True, slots=True, kw_only=True)
class MessageRow:
    """A message that is to leave or has left."""

    id: int
    recipient: int
    kind: str
    subject_key: str
    state_key: str
    sequence: int | None
    message_id: str
    state: str


@dataclass(frozen=True, kw_only=True)
class State:
    """One reading. `offerings` gives minutes and changeover minutes, `zones` the zone of an
    instructor's hours, UTC where left out.

    `read_at` and `read_monotonic` are one moment on two clocks. `ineligible` students are passed
    over when a place is offered.
    """

    meetings: Mapping[int, MeetingRow] = field(default_factory=dict)
    bookings: Mapping[int, BookingRow] = field(default_factory=dict)
    waiting: Mapping[int, WaitingRow] = field(default_factory=dict)
    proposals: Mapping[int, ProposalRow] = field(default_factory=dict)
    messages: tuple[MessageRow, ...] = ()
    offerings: Mapping[int, tuple[int, int]] = field(default_factory=dict)
    zones: Mapping[int, str] = field(default_factory=dict)
    ineligible: frozenset[int] = frozenset()
    books: Books = NO_BOOKS
    read_at: datetime = datetime(2000, 1, 1, tzinfo=UTC)
    read_monotonic: float = 0.0

    def monotonic(self, instant: datetime) -> float:
        """That instant in seconds of time.monotonic()."""
        return self.read_monotonic + (instant - self.read_at).total_seconds()

    @cached_property
    def by_instructor(self) -> Mapping[int, list[MeetingRow]]:
        """Live meetings."""
        found: dict[int, list[MeetingRow]] = defaultdict(list)
        for row in self.meetings.values():
            if row.live:
                found[row.instructor].append(row)
        return found

    @cached_property
    def by_meeting(self) -> Mapping[int, list[BookingRow]]:
        """Live bookings."""
        found: dict[int, list[BookingRow]] = defaultdict(list)
        for row in self.bookings.values():
            if row.live:
                found[row.meeting].append(row)
        return found

    @cached_property
    def by_student(self) -> Mapping[int, list[BookingRow]]:
        """Live bookings."""
        found: dict[int, list[BookingRow]] = defaultdict(list)
        for row in self.bookings.values():
            if row.live:
                found[row.student].append(row)
        return found

    @cached_property
    def queues(self) -> Mapping[tuple[int, str], list[WaitingRow]]:
        """Live places in the queue of a meeting and a kind of place, first in line first."""
        found: dict[tuple[int, str], list[WaitingRow]] = defaultdict(list)
        for row in sorted(self.waiting.values(), key=lambda row: row.order):
            if row.live:
                found[row.meeting, row.place_kind].append(row)
        return found


Row = TypeVar("Row", MeetingRow, BookingRow, WaitingRow, ProposalRow, MessageRow)


def read_state(
    *, since: datetime, until: datetime | None = None, taught_before: datetime | None = None
) -> State:
    """The rows of meetings that start in [since, until), in fourteen queries.

    Bookings and places in queues are those of these meetings, proposals and books are all; two more
    read the registers of what was `taught_before` an instant.
    """
    # Imported here: a checker of histories needs no Django.
    from django.db.models import F
    from django.utils import timezone

    from bookings.models import Booking, Meeting, OutboxMessage, ProposedTimes, WaitingPlace

    read_at, read_monotonic = timezone.now(), time.monotonic()
    chosen = Meeting.objects.filter(
        starts_at__gte=since, starts_at__lt=until or since + timedelta(days=3650)
    )
    booked = Booking.objects.filter(meeting__in=chosen)
    waiting = WaitingPlace.objects.filter(meeting__in=chosen)
    proposed = ProposedTimes.objects.annotate(moves=F("move_request__booking"))
    return State(
        meetings={row.id: row for row in _rows(MeetingRow, _as_rows(chosen))},
        bookings={row.id: row for row in _rows(BookingRow, booked)},
        waiting={row.id: row for row in _rows(WaitingRow, waiting)},
        proposals={row.id: row for row in _rows(ProposalRow, proposed)},
        messages=tuple(_rows(MessageRow, OutboxMessage.objects.all())),
        offerings=_lengths(read_at),
        zones=_zones(),
        books=read_books(before=taught_before),
        read_at=read_at,
        read_monotonic=read_monotonic,
    )


def _as_rows(meetings: Any) -> Any:
    """The meetings with the fields of a MeetingRow that their table does not have."""
    from django.db.models import BooleanField, ExpressionWrapper, F, Q

    from bookings.domain.vocabulary import Kind, MeetingStatus

    alone = Q(offering__kind__in=[kind for kind in Kind if kind.is_one_on_one])
    return meetings.annotate(
        live=ExpressionWrapper(~Q(status=MeetingStatus.CANCELLED), BooleanField()),
        flagged=F("is_flagged"),
        one_on_one=ExpressionWrapper(alone, BooleanField()),
    )


def _zones() -> dict[int, str]:
    from accounts.models import Instructor
    from bookings.models import TeachingWeek

    own = Instructor.objects.values_list("pk", "user__time_zone")
    weeks = TeachingWeek.objects.values_list("instructor_id", "time_zone")
    return {pk: str(zone) for pk, zone in [*own, *weeks]}


def _lengths(now: datetime) -> dict[int, tuple[int, int]]:
    """Minutes and changeover minutes of each offering."""
    from bookings.models import Offering
    from bookings.queries.offerings import offering_rules
    from bookings.queries.policies import policy_in_force

    policy = policy_in_force(now).rules()
    rules = {row.pk: offering_rules(row, policy) for row in Offering.objects.all()}
    return {pk: (rule.minutes, rule.changeover_minutes) for pk, rule in rules.items()}


def _rows(kind: type[Row], found: Any) -> list[Row]:
    """A query's rows in the order of their ids; the names of the fields are those of the table."""
    names = [field.name for field in fields(kind)]
    return [
        kind(**dict(zip(names, values, strict=True)))
        for values in found.order_by("pk").values_list(*names)
    ]
