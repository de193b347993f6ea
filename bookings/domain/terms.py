"""A term: its dates in the instructor's calendar, and a weekly wall time on another clock."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import lru_cache

from bookings.domain.errors import Refused
from bookings.domain.zones import zone

LONGEST_DAYS = 366
Dates = tuple[date, date]  # first and last, both included


@dataclass(frozen=True, slots=True)
class TermDates:
    """First and last day, both included, and the breaks in it, on the instructor's calendar.

    Refused: "end-before-start" for a term or break that ends before it begins; "invalid" for a term
    longer than 366 days and for a break that reaches outside it.
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


def check_flex_week(term: TermDates, flex_last_on: date | None) -> None:
    """Refused("end-before-start") for a flex week that ends before its term begins.

    It may lie in the term or after it (published school calendars, TRADE.md 1.1).
    """
    if flex_last_on is not None and flex_last_on < term.first_on:
        raise Refused(
            "end-before-start",
            "The flex week ends before the term begins.",
            field="flex_last_on",
        )


def in_break(term: TermDates, on: date) -> bool:
    """Whether the date lies in a break."""
    return any(first_on <= on <= last_on for first_on, last_on in term.breaks)


@lru_cache(maxsize=64)
def term_dates(term: TermDates, weekday: int) -> tuple[date, ...]:
    """The dates of that weekday (0 = Monday) in the term, rising, without the breaks.

    They are the dates of a weekly rule with EXDATE for the breaks (RFC 5545 section 3.8.5.3).
    """
    first = term.first_on + timedelta(days=(weekday - term.first_on.weekday()) % 7)
    weeks = range((term.last_on - first).days // 7 + 1)
    return tuple(
        on for on in (first + timedelta(weeks=week) for week in weeks) if not in_break(term, on)
    )


@dataclass(frozen=True, slots=True)
class Shift:
    """The first meeting at another hour of the reader's clock: "11:30" before, "12:30" from now on.

    `on` is the meeting's date on that clock.
    """

    on: date
    starts_at: datetime
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class ShiftRun:
    """Meetings in a row that are not at the usual hour of the reader's clock.

    `last_on` is the local date of the last of them; `back` is the return to the usual hour, None if
    there is none.
    """

    usual: str
    shifts: tuple[Shift, ...]
    last_on: date
    back: Shift | None


def shifts(starts: Sequence[datetime], time_zone: str) -> tuple[Shift, ...]:
    """The meetings whose hour on that clock differs from the meeting before. `starts` rise."""
    clock = zone(time_zone)
    local = [start.astimezone(clock) for start in starts]
    hours = [(at.hour, at.minute) for at in local]
    return tuple(
        Shift(local[i].date(), starts[i], f"{local[i - 1]:%H:%M}", f"{local[i]:%H:%M}")
        for i in range(1, len(hours))
        if hours[i] != hours[i - 1]
    )


def shift_runs(starts: Sequence[datetime], time_zone: str) -> tuple[ShiftRun, ...]:
    """The runs of meetings that are not at the hour of the first one.

    A reader is told of each run once.
    """
    local = [start.astimezone(zone(time_zone)) for start in starts]
    if not local:
        return ()
    usual = f"{local[0]:%H:%M}"
    runs: list[ShiftRun] = []
    open_run: list[Shift] = []
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
