"""A plain model of the desk: lists of small records, no Django and nothing of the product.

What the rules say, said a second time.

Everything is named by its number in its list, in order of making; the product's rows, in order of
id, must read the same. A method that breaks a rule raises No with the refusal's code and changes
nothing.
"""

import copy
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

PLAYER, LISTENER = "player", "listener"
LENGTHS = {"consultation": (25, 5), "lesson": (45, 10), "class": (60, 10), "masterclass": (90, 10)}
"""Minutes of each offering, and of its changeover."""
GROUPS = ("class", "masterclass")
LEAD, HORIZON, NOTICE = timedelta(hours=12), timedelta(days=60), timedelta(hours=24)
OFFER_LIFE, NEAR = timedelta(hours=24), timedelta(hours=4)
ALLOWANCE, STEP = 3, 30
OPENS, CLOSES, MINOR_OPENS = time(9), time(21), time(8)


class No(Exception):
    """A rule says no."""

    def __init__(self, code: str) -> None:
        super().__init__(code)
        self.code = code


@dataclass(slots=True)
class Student:
    zone: str
    adult_on: date | None = None
    consent: bool = True


@dataclass(slots=True)
class Teacher:
    zone: str
    away: list[tuple[date, date]] = field(default_factory=list)


@dataclass(slots=True)
class Meeting:
    number: int
    offering: str
    teacher: int
    starts: datetime
    ends: datetime
    held_until: datetime
    places: dict[str, int]
    weekly: int | None = None
    off: bool = False
    called_off: datetime | None = None


@dataclass(slots=True)
class Booking:
    number: int
    meeting: int
    student: int
    kind: str
    standing: str
    starts: datetime
    ends: datetime
    answer_by: datetime | None = None
    ended: datetime | None = None
    why: str = ""


@dataclass(slots=True)
class Wait:
    number: int
    meeting: int
    student: int
    kind: str
    joined: datetime
    offer: int | None = None
    ended: datetime | None = None
    why: str = ""


@dataclass(slots=True)
class Weekly:
    student: int
    teacher: int
    left: bool = False


def until_answered(now: datetime, starts: datetime, zone: str) -> datetime | None:
    """How long an offer stands: 24 h or half the time left, never due in 22:00-08:00 of their
    clock; None: the first yes has it.
    """
    if starts - now < NEAR:
        return None
    due = now + min(OFFER_LIFE, (starts - now) / 2)
    there = due.astimezone(ZoneInfo(zone))
    if 8 <= there.hour < 22:
        return due
    day = there.date() + timedelta(days=there.hour >= 22)
    morning = datetime.combine(day, time(8), ZoneInfo(zone)).astimezone(UTC)
    if starts - morning >= NEAR:
        return morning
    evening = datetime.combine(day - timedelta(days=1), time(22), ZoneInfo(zone)).astimezone(UTC)
    return evening if evening > now else None


def within(starts: datetime, ends: datetime, zone: str, opens: time, closes: time) -> bool:
    """Whether it lies between two hours of one day on that clock, the last included."""
    first, last = starts.astimezone(ZoneInfo(zone)), ends.astimezone(ZoneInfo(zone))
    return first.date() == last.date() and opens <= first.time() and last.time() <= closes


class Rows:
    """What the desk holds, and what is read off it."""

    def __init__(self, students: list[Student], teachers: list[Teacher]) -> None:
        self.students, self.teachers = students, teachers
        self.meetings: list[Meeting] = []
        self.bookings: list[Booking] = []
        self.waits: list[Wait] = []
        self.weekly: list[Weekly] = []
        self.announced: set[tuple[int, str]] = set()
        """Meetings and kinds of place whose line was told that the first yes has it."""

    def kept(self) -> tuple[object, ...]:
        return copy.deepcopy(
            (self.meetings, self.bookings, self.waits, self.weekly, self.announced)
        )

    def put_back(self, kept: tuple[object, ...]) -> None:
        self.meetings, self.bookings, self.waits, self.weekly, self.announced = kept

    def live(self, meeting: int, kind: str | None = None) -> list[Booking]:
        return [
            b
            for b in self.bookings
            if b.meeting == meeting and not b.why and kind in (None, b.kind)
        ]

    def full(self, meeting: int, kind: str) -> bool:
        return len(self.live(meeting, kind)) >= self.meetings[meeting].places[kind]

    def line(self, meeting: int, kind: str) -> list[Wait]:
        """Those who wait and have no offer, in order of joining."""
        line = [
            w
            for w in self.waits
            if w.meeting == meeting and w.kind == kind and not w.why and w.offer is None
        ]
        return sorted(line, key=lambda w: (w.joined, w.number))

    def place_in_line(self, meeting: int, student: int, kind: str) -> Wait | None:
        hers = [
            w
            for w in self.waits
            if (w.meeting, w.student, w.kind, w.why) == (meeting, student, kind, "")
        ]
        return hers[0] if hers else None

    def clashes(self, student: int, starts: datetime, ends: datetime, *, but: int) -> bool:
        held = [
            b
            for b in self.bookings
            if b.student == student and b.standing == "HELD" and b.meeting != but
        ]
        return any(b.starts < ends and starts < b.ends for b in held)

    def taught(
        self, teacher: int, starts: datetime, held_until: datetime, *, but: int | None = None
    ) -> bool:
        others = [
            m for m in self.meetings if m.teacher == teacher and not m.off and m.number != but
        ]
        return any(m.starts < held_until and starts < m.held_until for m in others)

    def is_minor(self, student: int, at: datetime) -> bool:
        her = self.students[student]
        return her.adult_on is not None and at.astimezone(ZoneInfo(her.zone)).date() < her.adult_on

    def meets(self, student: int, teacher: int, now: datetime) -> bool:
        """Whether the two have a meeting ahead, or had one within two weeks."""
        return any(
            b.student == student
            and b.standing == "HELD"
            and self.meetings[b.meeting].teacher == teacher
            and b.ends > now - timedelta(days=14)
            for b in self.bookings
        )

    def consents(self, student: int, now: datetime) -> bool:
        return self.students[student].consent or not self.is_minor(student, now)

    def humane(self, student: int, starts: datetime, ends: datetime) -> bool:
        return not self.is_minor(student, starts) or within(
            starts, ends, self.students[student].zone, MINOR_OPENS, CLOSES
        )

    def next_in_line(self, meeting: int, kind: str, now: datetime) -> tuple[Wait, datetime] | str:
        """Who in line is to be offered a free place, and until when; "first yes" or "nobody" where
        no one is.
        """
        it = self.meetings[meeting]
        for wait in self.line(meeting, kind):
            until = until_answered(now, it.starts, self.students[wait.student].zone)
            if until is None:
                return "first yes"
            if self.consents(wait.student, now) and self.humane(wait.student, it.starts, it.ends):
                return wait, until
        return "nobody"

    def is_for_the_taking(self, meeting: int, kind: str, now: datetime) -> bool:
        """Whether a free place is booked and not waited for: it is nobody's turn, or the first yes
        has it.
        """
        line, starts = self.line(meeting, kind), self.meetings[meeting].starts
        near = any(
            until_answered(now, starts, self.students[wait.student].zone) is None for wait in line
        )
        return not line or near or (meeting, kind) in self.announced

    def add_meeting(
        self,
        offering: str,
        teacher: int,
        starts: datetime,
        places: dict[str, int],
        weekly: int | None = None,
    ) -> Meeting:
        minutes, changeover = LENGTHS[offering]
        ends = starts + timedelta(minutes=minutes)
        held_until = ends + timedelta(minutes=changeover)
        self.meetings.append(
            Meeting(len(self.meetings), offering, teacher, starts, ends, held_until, places, weekly)
        )
        return self.meetings[-1]

    def add_booking(
        self, meeting: int, student: int, kind: str, answer_by: datetime | None = None
    ) -> Booking:
        it, standing = self.meetings[meeting], "HELD" if answer_by is None else "OFFERED"
        self.bookings.append(
            Booking(
                len(self.bookings), meeting, student, kind, standing, it.starts, it.ends, answer_by
            )
        )
        return self.bookings[-1]
