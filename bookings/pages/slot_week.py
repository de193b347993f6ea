"""Seven days of slots as a page shows them: used to book and to move."""

from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any
from urllib.parse import urlencode

from accounts.models import Instructor, Student
from bookings.domain.burden import HARD_BY_THE_CURVE, HARD_BY_THEIR_WEEK
from bookings.domain.local_days import midnight
from bookings.domain.owed import used_until
from bookings.domain.parties import StudentTime
from bookings.domain.policy import Policy, latest_start
from bookings.domain.slots import Slot, dated
from bookings.domain.start_costs import Listing
from bookings.domain.student_hours import SaidHours, shapes_week
from bookings.domain.suiting import best, has_humane, in_common, one_a_start, told_apart
from bookings.domain.timeline import Horizon, Period, periods
from bookings.domain.vocabulary import Night
from bookings.domain.zones import zone
from bookings.models import Meeting, Offering
from bookings.pages.slot_days import Day, Rows, Start, day_of, start_of
from bookings.queries.slots import Found, slots_for
from bookings.queries.times import Taught

DAYS = 7
MOST_STARTS = 420
"""How many starts a page lists. The others are behind a link to their day."""


@dataclass(frozen=True, slots=True)
class Search:
    """What is looked for. `asked` is what a TimesForm has read; a start leads to `book_at`."""

    student: Student
    offering: Offering
    asked: dict[str, Any]
    taught: Taught
    policy: Policy
    book_at: str
    now: datetime
    with_far: bool = False
    """Whether hard hours are listed however many starts there are."""
    with_never: bool = False
    """Whether hours are listed that the family has marked “never”."""
    moving: Meeting | None = None
    by_school: bool = False
    """Whether an instructor or admin reads it."""
    teaching_zone: str = ""
    """The clock of the hours of an instructor who looks for themselves; empty for all others."""
    owed_id: int | None = None
    """The owed lesson that what is found makes up."""
    use_by: date | None = None
    """The last date, on the student's clock, on which a make-up lesson may begin."""

    @property
    def here(self) -> str:
        """The reader's clock."""
        return self.teaching_zone or self.student.zone

    @property
    def today(self) -> date:
        return self.now.astimezone(zone(self.here)).date()

    @property
    def last(self) -> date:
        """The last date with starts, but never before today."""
        until = latest_start(self.now, self.policy)
        if self.use_by is not None:
            until = min(until, used_until(self.use_by, self.student.zone) - datetime.resolution)
        return max(until.astimezone(zone(self.here)).date(), self.today)

    def starting(self, first: date) -> Found:
        """The slots of the days from that one on."""
        since = midnight(first, self.here)
        until = midnight(first + timedelta(days=DAYS), self.here)
        return self._slots(since, until, Night.INCLUDED)

    def best_of(self, week: list[Slot]) -> list[Slot]:
        """Three that suit best; for a family from beyond these days where all of them are at a hard
        hour.
        """
        if not week or has_humane(week) or self.teaching_zone:
            return best(week, self.here)
        until = latest_start(self.now, self.policy) + datetime.resolution
        beyond = self._slots(self.now, until, Night.LEFT_OUT).slots
        return best([slot for slot, _ in one_a_start(beyond)] or week, self.here)

    def _slots(self, since: datetime, until: datetime, night: Night) -> Found:
        chosen: Instructor | None = self.asked.get("instructor")
        found = slots_for(
            offering=self.offering,
            student=self.student,
            since=since,
            until=until,
            listing=Listing(night, self.with_never, is_for_instructor=bool(self.teaching_zone)),
            now=self.now,
            instructor_id=chosen.pk if chosen else None,
            earliest=self.asked.get("earliest"),
            latest=self.asked.get("latest"),
            moving=self.moving,
            use_by=self.use_by,
            people=self.taught.instructors.get(self.offering.pk, []),
            policy=self.policy,
            by_school=self.by_school,
        )
        return replace(found, slots=dated(found.slots, self.now, self.here))

    def why_at(self, on: date) -> str:
        """The address that explains why a day has no other start; empty during a move, and for an
        instructor.
        """
        if self.moving is not None or self.teaching_zone:
            return ""
        chosen: Instructor | None = self.asked.get("instructor")
        named = {"offering": self.offering.pk, "student": self.student.pk}
        whom = {"instructor": chosen.pk} if chosen else {}
        return f"/times/why/?{urlencode({**named, **whom, 'on': on.isoformat()})}"


@dataclass(frozen=True, slots=True)
class Week:
    """Seven days, the one other clock to draw, and the first days of the weeks before and after.

    `earlier` and `later` are None at the ends of what can be booked.
    """

    days: list[Day]
    first: date
    here: str
    other_zone: str | None
    earlier: date | None
    later: date | None
    instructors: list[Instructor]
    best: list[tuple[Start, tuple[str, ...]]]
    """Each with the sentences that tell it from the others."""
    in_common: tuple[str, ...]
    student: StudentTime

    @property
    def is_empty(self) -> bool:
        return not self.best

    @property
    def said(self) -> SaidHours:
        """What the family says of the student's hours."""
        return self.student.said

    @property
    def far_words(self) -> str:
        """What hard hours are called."""
        is_theirs = shapes_week(self.said, self.student.adult_on, self.first)
        return HARD_BY_THEIR_WEEK if is_theirs else HARD_BY_THE_CURVE


def week_of_times(search: Search) -> Week:
    """Seven days from `since`, held between today and the last date with starts."""
    today, here = search.today, search.here
    wanted = min(max(search.asked.get("since") or today, today), today + timedelta(days=400))
    last = search.last
    first = min(wanted, last)
    found = search.starting(first)
    rows = one_a_start(found.slots)
    shown = search.best_of([slot for slot, _ in rows])
    other_zone = _other_zone(search, found)
    later = first + timedelta(days=DAYS)
    chosen: Instructor | None = search.asked.get("instructor")
    owed = f"&owed={search.owed_id}" if search.owed_id is not None else ""
    named = f"student={search.student.pk}&offering={search.offering.pk}{owed}"
    lead = f"{search.book_at}?{named}&start="
    drawn = Rows(
        found,
        here,
        search.student.zone,
        lead,
        other_zone,
        frozenset(slot.starts_at for slot in shown),
        _taught(found, first, here),
    )
    others = dict(rows)
    return Week(
        days=_days(search, first, rows, drawn),
        first=first,
        here=here,
        other_zone=other_zone,
        earlier=max(today, first - timedelta(days=DAYS)) if first > today else None,
        later=later if later <= last else None,
        instructors=[chosen] if chosen else list(found.instructors.values()),
        best=[
            (start_of(slot, others.get(slot, 0), drawn), told)
            for slot, told in zip(shown, told_apart(shown, here), strict=True)
        ],
        in_common=in_common(shown),
        student=found.student,
    )


def _other_zone(search: Search, found: Found) -> str | None:
    """The one other clock to draw: the student's for an instructor, else that of all who teach."""
    clocks = {time.time_zone for time in found.times.values()}
    if search.teaching_zone:
        return search.student.zone
    return clocks.pop() if len(clocks) == 1 else None


def _taught(found: Found, first: date, here: str) -> tuple[Period, ...]:
    """When any of the instructors found teaches in these days."""
    until = midnight(first + timedelta(days=DAYS), here)
    horizon = Horizon.spanning(midnight(first, here), until)
    mask = 0
    for time in found.times.values():
        mask |= time.teachable(horizon)
    return periods(mask, horizon)


def _days(search: Search, first: date, rows: list[tuple[Slot, int]], drawn: Rows) -> list[Day]:
    by_day: dict[date, list[tuple[Slot, int]]] = defaultdict(list)
    for slot, others in rows:
        by_day[slot.starts_at.astimezone(zone(search.here)).date()].append((slot, others))
    room, with_far = MOST_STARTS, search.with_far or len(rows) <= MOST_STARTS
    days = []
    for ahead in range(DAYS):
        on = first + timedelta(days=ahead)
        if search.use_by is not None and on > search.last:
            break
        day = day_of(on, by_day[on], drawn, with_far=with_far, room=room, why=search.why_at(on))
        room -= len(day.starts) + len(day.far)
        days.append(day)
    return days
