"""One day of Times that suit: its ribbon, its starts in a list, and why each suits."""

from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby

from accounts.models import Instructor
from bookings.domain.burden import HARD
from bookings.domain.slots import Slot
from bookings.domain.timeline import Period
from bookings.domain.zones import place
from bookings.pages.clock_changes import clock_changes
from bookings.pages.parameters import start_value
from bookings.pages.ribbon import Ribbon, draw, local_day
from bookings.pages.templatetags.formatting import clock_time, clock_time_beside
from bookings.queries.slots import Found


@dataclass(frozen=True, slots=True)
class Rows:
    """What every row of a page has in common."""

    found: Found
    here: str
    """The reader's clock."""
    student_zone: str
    lead: str
    """The address of a start but for its value."""
    other_zone: str | None
    best: frozenset[datetime]
    teachable: tuple[Period, ...]
    """When any of the instructors found teaches; what is taken is not told apart."""


@dataclass(frozen=True, slots=True)
class Start:
    """One start in the list of a day."""

    slot: Slot
    instructor: Instructor
    clock: str
    there: str
    """The other person's clock and place; empty where it is the reader's."""
    address: str
    whom: str
    """By whom, and how many others, where there is a choice."""


@dataclass(frozen=True, slots=True)
class Day:
    """One day of the page. Starts for which the page has no room are only counted."""

    on: date
    ribbon: Ribbon
    told: list[str]
    starts: list[Start]
    far: list[Start]
    """Very early, very late or at night."""
    reasons: list[tuple[str, str]]
    """From which start to which one, and why these suit as they do."""
    count: int
    far_count: int
    span: tuple[str, str]
    """The first and the last start on the reader's clock; far ones count only if all are far."""
    why: str
    """The address that answers why there is no other start on it, or empty."""

    @property
    def weekday(self) -> str:
        return f"{self.on:%A}"

    @property
    def words(self) -> str:
        return f"{self.on.day} {self.on:%B}"

    @property
    def has_starts(self) -> bool:
        return bool(self.count or self.far_count)

    @property
    def is_listed(self) -> bool:
        """Whether all its starts that are no far ones are listed here."""
        return len(self.starts) == self.count


def start_of(slot: Slot, others: int, rows: Rows) -> Start:
    """A slot as one row."""
    theirs = rows.found.times[slot.instructor_id].time_zone
    there = theirs if rows.here == rows.student_zone else rows.student_zone
    beside = f"{clock_time_beside(slot.starts_at, there, rows.here)} {place(there)}"
    instructor = rows.found.instructors[slot.instructor_id]
    whom = [str(instructor)] if len(rows.found.instructors) > 1 else []
    if others:
        whom.append(f"or {others} other{'' if others == 1 else 's'}")
    return Start(
        slot=slot,
        instructor=instructor,
        clock=clock_time(slot.starts_at, rows.here),
        there=beside if there != rows.here else "",
        address=f"{rows.lead}{start_value(slot)}",
        whom=", ".join(whom),
    )


def day_of(
    on: date,
    slots: list[tuple[Slot, int]],
    rows: Rows,
    *,
    with_far: bool,
    room: int,
    why: str,
) -> Day:
    """A day with at most `room` starts in its lists: all of them, or none."""
    day = local_day(on, rows.here)
    humane = [row for row in slots if row[0].burden < HARD]
    far = [row for row in slots if row[0].burden >= HARD]
    shown = humane if len(humane) <= room else []
    far_shown = far if with_far and len(humane) + len(far) <= room else []
    ends = [clock_time(row[0].starts_at, rows.here) for row in (humane or far)]
    ribbon = draw(
        day,
        teachable=rows.teachable,
        starts={slot.starts_at: slot.fit for slot, _ in slots},
        best=rows.best,
        other_zone=rows.other_zone if rows.other_zone != rows.here else None,
    )
    return Day(
        on=on,
        ribbon=ribbon,
        told=clock_changes(day, rows.other_zone),
        starts=[start_of(slot, others, rows) for slot, others in shown],
        far=[start_of(slot, others, rows) for slot, others in far_shown],
        reasons=_reasons([slot for slot, _ in sorted(shown + far_shown, key=_begins)], rows.here),
        count=len(humane),
        far_count=len(far),
        span=(ends[0], ends[-1]) if ends else ("", ""),
        why=why,
    )


def _begins(row: tuple[Slot, int]) -> datetime:
    return row[0].starts_at


def _reasons(slots: list[Slot], here: str) -> list[tuple[str, str]]:
    """Starts in a row that suit for the same reasons, in one line."""
    told = []
    for reasons, alike in groupby(slots, key=lambda slot: slot.reasons):
        clocks = [clock_time(slot.starts_at, here) for slot in alike]
        stretch = clocks[0] if len(clocks) == 1 else f"{clocks[0]} to {clocks[-1]}"
        told.append((stretch, " ".join(reasons)))
    return told
