"""A term: its dates in the instructor's calendar, and how a weekly wall time reads on another clock through it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from bookings.domain.errors import Refused
from bookings.domain.zones import zone

LONGEST_DAYS = 366
Dates = tuple[date, date]  # first and last, both included


@dataclass(frozen=True, slots=True)
class Term:
    """First and last day, both included, and the breaks in it, as the instructor's calendar counts them.

    Refused: "end-before-start" for a term or break that ends before it begins, "invalid" for a term longer than 366 days and
    for a break that reaches outside it.
    """

    first_on: date
    last_on: date
    breaks: tuple[Dates, ...] = ()

    def __post_init__(self) -> None:
        if self.last_on < self.first_on:
            raise Refused(
                "end-before-start",
                "The last day of the term comes before the first.",
                field="last_on",
            )
        if (self.last_on - self.first_on).days >= LONGEST_DAYS:
            raise Refused(
                "invalid",
                f"A term has at most {LONGEST_DAYS} days: make two of it.",
                field="last_on",
            )
        for first_on, last_on in self.breaks:
            if last_on < first_on:
                raise Refused(
                    "end-before-start",
                    "The last day of a break comes before its first.",
                    field="breaks",
                )
            if first_on < self.first_on or self.last_on < last_on:
                raise Refused(
                    "invalid",
                    "A break lies inside its term: change its days or the term's.",
                    field="breaks",
                )


def in_break(term: Term, on: date) -> bool:
    """Whether the date lies in a break."""
    return any(first_on <= on <= last_on for first_on, last_on in term.breaks)


def term_dates(term: Term, weekday: int) -> tuple[date, ...]:
    """The dates of that weekday (0 = Monday) in the term, breaks left out, rising.

    They are those of a weekly rule with EXDATE for the breaks (RFC 5545 section 3.8.5.3).
    """
    first = term.first_on + timedelta(days=(weekday - term.first_on.weekday()) % 7)
    weeks = range((term.last_on - first).days // 7 + 1)
    return tuple(
        on for on in (first + timedelta(weeks=week) for week in weeks) if not in_break(term, on)
    )


@dataclass(frozen=True, slots=True)
class Shift:
    """From this meeting on the reader's clock shows another hour: "11:30" before, "12:30" from now on; `on` is her local date."""

    on: date
    starts_at: datetime
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class ShiftRun:
    """A stretch of meetings that are not at the usual hour: its shifts, the local date of its last meeting, and the return, if any."""

    usual: str
    shifts: tuple[Shift, ...]
    last_on: date
    back: Shift | None


def shifts(starts: Sequence[datetime], time_zone: str) -> tuple[Shift, ...]:
    """Each meeting, of those that start at `starts` (rising), whose hour on that clock differs from the meeting before."""
    local = [start.astimezone(zone(time_zone)) for start in starts]
    said = [f"{at:%H:%M}" for at in local]
    return tuple(
        Shift(local[i].date(), starts[i], said[i - 1], said[i])
        for i in range(1, len(said))
        if said[i] != said[i - 1]
    )


def shift_runs(starts: Sequence[datetime], time_zone: str) -> tuple[ShiftRun, ...]:
    """The runs of meetings that are not at the hour of the first one: what a reader is told once for each."""
    local = [start.astimezone(zone(time_zone)) for start in starts]
    if not local:
        return ()
    usual, runs, open_run = f"{local[0]:%H:%M}", [], list[Shift]()
    for shift in shifts(starts, time_zone):
        if shift.after != usual:
            open_run.append(shift)
            continue
        last = next(
            at
            for at, start in zip(reversed(local), reversed(starts), strict=True)
            if start < shift.starts_at
        )
        runs.append(ShiftRun(usual, tuple(open_run), last.date(), shift))
        open_run = []
    if open_run:
        runs.append(ShiftRun(usual, tuple(open_run), local[-1].date(), None))
    return tuple(runs)
