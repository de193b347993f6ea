"""Weekly times as a page says them: the few that suit best, then those of each weekday, folded."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, TypeVar

from bookings.domain.burden import HARD, HARD_BY_THE_CURVE, HARD_BY_THEIR_WEEK
from bookings.domain.hours import WEEKDAYS
from bookings.domain.suiting_weekly import Weekly, best_weekly, weekly_told_apart
from bookings.domain.weekly import WeeklyOption
from bookings.domain.zones import zone
from bookings.pages.templatetags.formatting import minute_as_time, short_date, zone_place

Row = dict[str, Any]
T = TypeVar("T", bound=Weekly)
_COSTS = {
    1: "A little early or late for some.",
    3: "Early or late.",
    8: "Very early or very late.",
    20: "At night.",
}


@dataclass(slots=True)
class Weekday:
    """One weekday's times on the reader's clock; `far` are those at hard hours."""

    name: str
    rows: list[Row] = field(default_factory=list)
    far: list[Row] = field(default_factory=list)

    @property
    def far_words(self) -> str:
        """What these hard hours are called."""
        is_theirs = any(row["option"].worst.words for row in self.far)
        return HARD_BY_THEIR_WEEK if is_theirs else HARD_BY_THE_CURVE

    @property
    def span(self) -> tuple[str, str]:
        clocks = sorted(row["clock"] for row in self.rows or self.far)
        return clocks[0], clocks[-1]


def weekly_row(option: WeeklyOption, here: str, there: str) -> Row:
    """A weekly time on both clocks, with its shifts, and what it costs at worst.

    `here` is the student's clock, `there` the instructor's, `beside` the time on that one; empty
    where both are the same. A page has hundreds of rows: what is words is made here, since a
    template takes several times as long.
    """
    first = option.held[0].starts_at.astimezone(zone(here)) if option.held else None
    at = option.at
    return {
        "option": option,
        "clock": f"{first:%H:%M}" if first else "",
        "starts": f"{WEEKDAYS[first.weekday()]}s {first:%H:%M}" if first else "",
        "beside": ""
        if there == here
        else f"{WEEKDAYS[at.weekday]}s {minute_as_time(at.minute)} {zone_place(there)}",
        "there": there,
        "of": len(option.held) + len(option.failed),
        "not_on": ", ".join(short_date(day.on) for day in option.failed),
        "away_on": ", ".join(short_date(on) for on in option.away),
        "shifts": option.shifts,
        "cost": option.worst.words or _COSTS.get(option.greatest_burden, ""),
        "apart": "",
        "others": 0,
    }


def rows_of(
    options: Iterable[tuple[T, T | None]], row: Callable[[T], Row], here: str
) -> tuple[list[Row], list[Weekday]]:
    """The best times, each with what sets it apart, and the weekdays of the reader's clock.

    A weekday has one row for each hour, the best one, with how many `others` teach then. `next`
    is the sibling's time beside an option. Only what is shown is made a row.
    """
    beside = dict(options)
    best = best_weekly(list(beside), here)
    shown = [
        {**row(option), "next": beside[option], "apart": apart}
        for option, apart in zip(best, weekly_told_apart(best, here), strict=True)
    ]
    clock = _LocalClock(here)
    days: dict[int, Weekday] = {}
    seen: dict[tuple[int, str], Row] = {}
    for option, after in beside.items():
        start = clock[option.first_at]
        if start in seen:
            seen[start]["others"] += 1
            continue
        day = days.setdefault(start[0], Weekday(WEEKDAYS[start[0]]))
        kind = day.far if option.greatest_burden >= HARD else day.rows
        seen[start] = {**row(option), "next": after}
        kind.append(seen[start])
    for day in days.values():
        for kind in (day.rows, day.far):
            kind.sort(key=_clock)
    return shown, [days[weekday] for weekday in sorted(days)]


def _clock(row: Row) -> str:
    return str(row["clock"])


class _LocalClock(dict[datetime, tuple[int, str]]):
    """Weekday and time of instants on one clock; thousands of options begin at some hundreds."""

    def __init__(self, here: str) -> None:
        self._zone = zone(here)

    def __missing__(self, instant: datetime) -> tuple[int, str]:
        local = instant.astimezone(self._zone)
        said = self[instant] = local.weekday(), f"{local:%H:%M}"
        return said


def on_weekday(
    options: Sequence[tuple[T, T | None]], weekday: int | None
) -> list[tuple[T, T | None]]:
    """Those on that weekday of the instructor's clock; all where none is asked for."""
    return [pair for pair in options if weekday in (None, pair[0].at.weekday)]
