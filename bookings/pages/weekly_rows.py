"""Weekly times as a page says them: the few that suit best, then those of each weekday, folded."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from bookings.domain.burden import HARD, HARD_BY_THE_CURVE, HARD_BY_THEIR_WEEK
from bookings.domain.suiting_weekly import best_weekly, weekly_told_apart
from bookings.domain.terms import shifts
from bookings.domain.weekly import WeeklyOption
from bookings.domain.zones import zone

Row = dict[str, Any]
Beside = tuple[WeeklyOption, WeeklyOption | None]
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
    """A weekly time on both clocks, with its shifts, and what it costs at worst."""
    first = option.held[0].starts_at if option.held else None
    return {
        "option": option,
        "first": first,
        "clock": f"{first.astimezone(zone(here)):%H:%M}" if first else "",
        "there": there,
        "of": len(option.held) + len(option.failed),
        "shifts": shifts([held.starts_at for held in option.held], here),
        "cost": option.worst.words or _COSTS.get(option.greatest_burden, ""),
    }


def rows_of(
    options: Iterable[Beside], row: Callable[[WeeklyOption], Row], here: str
) -> tuple[list[Row], list[Weekday]]:
    """The best times, each with what sets it apart, and the weekdays of the reader's clock.

    A weekday has one row for each hour, the best one, with how many `others` teach then. `next`
    is the sibling's time beside an option.
    """
    beside = dict(options)
    best = best_weekly(list(beside), here)
    shown = [
        {**row(option), "next": beside[option], "apart": apart}
        for option, apart in zip(best, weekly_told_apart(best, here), strict=True)
    ]
    days: dict[int, Weekday] = {}
    seen: dict[tuple[int, str], Row] = {}
    for option, after in beside.items():
        first = option.held[0].starts_at.astimezone(zone(here))
        start = (first.weekday(), f"{first:%H:%M}")
        if start in seen:
            seen[start]["others"] += 1
            continue
        day = days.setdefault(first.weekday(), Weekday(f"{first:%A}"))
        kind = day.far if option.greatest_burden >= HARD else day.rows
        seen[start] = {**row(option), "next": after, "others": 0}
        kind.append(seen[start])
    for day in days.values():
        for kind in (day.rows, day.far):
            kind.sort(key=_clock)
    return shown, [days[weekday] for weekday in sorted(days)]


def _clock(row: Row) -> str:
    return str(row["clock"])


def on_weekday(options: Sequence[Beside], weekday: int | None) -> Sequence[Beside]:
    """Those on that weekday of the instructor's clock; all where none is asked for."""
    return [pair for pair in options if weekday in (None, pair[0].at.weekday)]
