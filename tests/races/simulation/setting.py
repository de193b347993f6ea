"""The school around the simulation's desk: its clock, hours and people, said a second time."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from tests.races.desk.rows import HELD, Booking, Desk, Meeting, Proposal
from tests.races.desk.setting import Setting

LENGTHS = {"consultation": (25, 5), "lesson": (45, 10), "class": (60, 10), "masterclass": (90, 10)}
"""Minutes of each offering, and of its changeover."""
GROUPS = ("class", "masterclass")
LEAD, HORIZON, NOTICE = timedelta(hours=12), timedelta(days=60), timedelta(hours=24)
OFFER_LIFE, NEAR = timedelta(hours=24), timedelta(hours=4)
PROPOSAL_LIFE, DECLINE_LIFE = timedelta(hours=72), timedelta(hours=24)
ALLOWANCE, STEP = 3, 30
OPENS, CLOSES, MINOR_OPENS = time(9), time(21), time(8)


@dataclass(slots=True)
class Student:
    """`agreed` says of each guardian whether they consent, `barred` are the numbers of some.
    Children of one `home` have the same first guardian.
    """

    zone: str
    level: int
    adult_on: date | None = None
    agreed: list[bool] = field(default_factory=list)
    barred: set[int] = field(default_factory=set)
    home: str = ""

    @property
    def consent(self) -> bool:
        """Whether a guardian who answers has consented."""
        return any(yes for i, yes in enumerate(self.agreed) if i not in self.barred)


@dataclass(slots=True)
class Teacher:
    """`levels` are the lowest and the highest of each offering; every level where it has none."""

    zone: str
    levels: dict[str, tuple[int, int]] = field(default_factory=dict)


def until_answered(
    now: datetime, starts: datetime, zone: str, life: timedelta = OFFER_LIFE
) -> datetime | None:
    """How long an offer stands: its life or half the time left, never due in 22:00-08:00 of their
    clock; None: the first yes has it.
    """
    if starts - now < NEAR:
        return None
    due = now + min(life, (starts - now) / 2)
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


@dataclass(slots=True)
class Clocked(Setting):
    """Students and teachers by their number, and the instant of an act."""

    students: list[Student]
    teachers: list[Teacher]
    now: datetime

    # ---- the clock
    def begun(self, starts_at: datetime) -> bool:
        return starts_at <= self.now

    def is_late(self, booking: Booking) -> bool:
        return self.now > booking.starts_at - NOTICE

    def is_over(self, offer: Booking) -> bool:
        late = offer.answer_by is None or self.now >= offer.answer_by
        return late or self.begun(offer.starts_at)

    def untimely(self, starts_at: datetime, *, by_school: bool = False) -> Iterator[str]:
        if starts_at < self.now:
            yield "past"
        if not by_school and starts_at < self.now + LEAD:
            yield "too-soon"
        if starts_at > self.now + HORIZON:
            yield "too-far"

    def is_open(self, meeting: Meeting) -> bool:
        zone = self.teachers[meeting.instructor].zone
        return within(meeting.starts_at, meeting.ends_at, zone, OPENS, CLOSES)

    def on_grid(self, meeting: Meeting) -> bool:
        zone = ZoneInfo(self.teachers[meeting.instructor].zone)
        return meeting.starts_at.astimezone(zone).minute % STEP == 0

    # ---- people
    def is_minor(self, student: int, at: datetime) -> bool:
        who = self.students[student]
        return who.adult_on is not None and at.astimezone(ZoneInfo(who.zone)).date() < who.adult_on

    def consents(self, student: int) -> bool:
        return self.students[student].consent or not self.is_minor(student, self.now)

    def one_family(self, one: Booking, other: Booking) -> bool:
        homes = {self.students[row.student].home for row in (one, other)}
        barred = any(0 in self.students[row.student].barred for row in (one, other))
        return len(homes) == 1 and homes != {""} and not barred

    def humane(self, student: int, starts_at: datetime, ends_at: datetime) -> bool:
        zone = self.students[student].zone
        daytime = within(starts_at, ends_at, zone, MINOR_OPENS, CLOSES)
        return daytime or not self.is_minor(student, starts_at)

    def at_level(self, student: int, meeting: Meeting) -> bool:
        level = self.students[student].level
        lowest, highest = self.teachers[meeting.instructor].levels.get(
            meeting.offering, (level, level)
        )
        return lowest <= level <= highest

    def allowance_used(self, desk: Desk, student: int, offering: str) -> bool:
        """Of consultations ahead only so many are held at once; proposed times are not."""
        alike = {row.id for row in desk.meetings if row.offering == offering}
        ahead = [
            row
            for row in desk.bookings
            if row.student == student and row.standing == HELD and not self.begun(row.starts_at)
        ]
        return (
            offering == "consultation" and sum(row.meeting in alike for row in ahead) >= ALLOWANCE
        )

    # ---- what the school proposes or books
    def is_due(self, proposal: Proposal) -> bool:
        return proposal.answer_by is None or self.now >= proposal.answer_by

    def hasty(self, student: int, first: datetime) -> Iterator[str]:
        if self.times_answer_by(student, first) is None:
            yield "too-soon"

    def times_answer_by(self, student: int, first: datetime) -> datetime | None:
        return until_answered(self.now, first, self.students[student].zone, PROPOSAL_LIFE)

    def decline_by(self, starts_at: datetime) -> datetime | None:
        return min(self.now + DECLINE_LIFE, starts_at)

    def may_decline(self, booking: Booking) -> bool:
        return booking.decline_by is not None and self.now < booking.decline_by

    # ---- offers
    def is_near(self, meeting: Meeting, student: int) -> bool:
        return self.answer_by(meeting, student) is None

    def may_take(self, meeting: Meeting, student: int) -> bool:
        humane = self.humane(student, meeting.starts_at, meeting.ends_at)
        return humane and self.consents(student)

    def answer_by(self, meeting: Meeting, student: int) -> datetime | None:
        return until_answered(self.now, meeting.starts_at, self.students[student].zone)
