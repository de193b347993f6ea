"""Seven days of slots as the ribbon page shows them: used to book and to move."""

from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any
from urllib.parse import urlencode

from accounts.models import Instructor, Student
from bookings.domain.policy import latest_start
from bookings.domain.slots import Slot, best
from bookings.domain.timeline import Horizon, Period, periods
from bookings.domain.zones import zone
from bookings.models import Meeting, Offering
from bookings.pages.clocks import utc
from bookings.pages.ribbon import LocalDay, Ribbon, clock_changes, draw, local_day, midnight
from bookings.queries.slots import Found, slots_for

DAYS = 7


@dataclass(frozen=True, slots=True)
class Start:
    """One start in the list below a ribbon."""

    slot: Slot
    instructor: Instructor
    their_zone: str
    address: str


@dataclass(frozen=True, slots=True)
class Day:
    """One day of the page."""

    on: date
    ribbon: Ribbon
    told: list[str]
    starts: list[Start]
    why: str = ""
    """The address that answers why there is no other start on it; empty while an own booking is moved, whose time is not counted."""

    @property
    def weekday(self) -> str:
        return f"{self.on:%A}"

    @property
    def words(self) -> str:
        return f"{self.on.day} {self.on:%B}"


@dataclass(frozen=True, slots=True)
class Week:
    """The page: its days, the one other clock they are drawn against, and the weeks before and after (None at an end)."""

    days: list[Day]
    other_zone: str | None
    earlier: date | None
    later: date | None
    instructors: list[Instructor]
    best: list[Start]


def week_of_times(
    *,
    student: Student,
    offering: Offering,
    asked: dict[str, Any],
    book_at: str,
    now: datetime,
    moving: Meeting | None = None,
) -> Week:
    """Seven days from `asked["since"]`, held between today and the horizon. `book_at` is the address a start leads to."""
    today = now.astimezone(zone(student.zone)).date()
    instructor: Instructor | None = asked.get("instructor")
    wanted = min(max(asked.get("since") or today, today), today + timedelta(days=400))
    found = _found(student, offering, asked, wanted, now, moving)
    last = latest_start(now, found.policy).astimezone(zone(student.zone)).date()
    first = min(wanted, last)
    if first != wanted:
        found = _found(student, offering, asked, first, now, moving)
    clocks = {time.time_zone for time in found.times.values()}
    other_zone = clocks.pop() if len(clocks) == 1 else None
    slots: dict[date, list[Slot]] = defaultdict(list)
    for slot in found.slots:
        slots[slot.starts_at.astimezone(zone(student.zone)).date()].append(slot)
    days = [first + timedelta(days=ahead) for ahead in range(DAYS)]
    later = first + timedelta(days=DAYS)
    shown = best(found.slots, student.zone)
    heads = {slot.starts_at for slot in shown}
    why = {
        "offering": offering.pk,
        "student": student.pk,
        **({"instructor": instructor.pk} if instructor else {}),
    }
    return Week(
        days=[
            replace(
                _day(on, student, offering, found, slots[on], other_zone, book_at, heads),
                why=f"/times/why/?{urlencode({**why, 'on': on.isoformat()})}"
                if moving is None
                else "",
            )
            for on in days
        ],
        other_zone=other_zone,
        earlier=max(today, first - timedelta(days=DAYS)) if first > today else None,
        later=later if later <= last else None,
        instructors=[instructor] if instructor else list(found.instructors.values()),
        best=[_start(slot, student, offering, found, book_at) for slot in shown],
    )


def _found(
    student: Student,
    offering: Offering,
    asked: dict[str, Any],
    first: date,
    now: datetime,
    moving: Meeting | None,
) -> Found:
    instructor = asked.get("instructor")
    return slots_for(
        offering=offering,
        student=student,
        since=midnight(first, student.zone),
        until=midnight(first + timedelta(days=DAYS), student.zone),
        now=now,
        instructor_id=instructor.pk if instructor else None,
        earliest=asked.get("earliest"),
        latest=asked.get("latest"),
        moving=moving,
    )


def _start(slot: Slot, student: Student, offering: Offering, found: Found, book_at: str) -> Start:
    return Start(
        slot=slot,
        instructor=found.instructors[slot.instructor_id],
        their_zone=found.times[slot.instructor_id].time_zone,
        address=start_address(book_at, slot, offering, student),
    )


def _day(
    on: date,
    student: Student,
    offering: Offering,
    found: Found,
    slots: list[Slot],
    other_zone: str | None,
    book_at: str,
    heads: set[datetime],
) -> Day:
    day = local_day(on, student.zone)
    fits: dict[datetime, int] = {}
    for slot in slots:
        fits[slot.starts_at] = max(slot.fit, fits.get(slot.starts_at, 0))
    ribbon = draw(
        day,
        teachable=_taught(found, day),
        starts=fits,
        best=heads,
        other_zone=other_zone if other_zone != student.zone else None,
    )
    return Day(
        on=on,
        ribbon=ribbon,
        told=clock_changes(day, other_zone),
        starts=[_start(slot, student, offering, found, book_at) for slot in slots],
    )


def start_address(book_at: str, slot: Slot, offering: Offering, student: Student) -> str:
    """Where a start leads: everything the booking page needs is in its address."""
    asked = {
        "offering": offering.pk,
        "instructor": slot.instructor_id,
        "starts_at": utc(slot.starts_at),
        "student": student.pk,
    }
    return f"{book_at}?{urlencode(asked)}"


def _taught(found: Found, day: LocalDay) -> tuple[Period, ...]:
    """When any of the instructors found teaches on that day; what is taken is not told apart."""
    horizon = Horizon.spanning(day.period.starts_at, day.period.ends_at)
    mask = 0
    for time in found.times.values():
        mask |= time.teachable(horizon)
    return periods(mask, horizon)
