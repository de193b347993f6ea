"""Choosing among weekly times: the few that suit best, and what tells those apart."""

from collections.abc import Sequence
from datetime import datetime
from typing import Protocol, TypeVar

from bookings.domain.burden import HARD
from bookings.domain.suiting import Part, part_of, spread
from bookings.domain.weekly import WeeklyTime
from bookings.domain.zones import zone


class Weekly(Protocol):
    """A weekly time that holds dates, judged date by date or only counted."""

    @property
    def held_dates(self) -> int: ...
    @property
    def first_at(self) -> datetime: ...
    @property
    def greatest_burden(self) -> int: ...
    @property
    def at(self) -> WeeklyTime: ...


T = TypeVar("T", bound=Weekly)


def best_weekly(options: Sequence[T], time_zone: str, n: int = 3) -> list[T]:
    """At most n of these options, no two in one part of one weekday of that clock.

    The options are ranked and hold dates. A weekly time with a lesson at a hard hour is among them
    only if there is no other.
    """
    ranked = [option for option in options if option.greatest_burden < HARD] or list(options)
    return spread(
        ranked,
        n,
        day=lambda option: option.first_at.astimezone(zone(time_zone)).weekday(),
        part=lambda option: part_of(option.first_at, time_zone),
        is_near=lambda option: option.held_dates == ranked[0].held_dates,
    )


def weekly_told_apart(options: Sequence[Weekly], time_zone: str) -> list[str]:
    """For each of a few weekly times a sentence true of no other; empty for a single one."""
    return [_alone(option, options, time_zone) if len(options) > 1 else "" for option in options]


def _alone(option: Weekly, options: Sequence[Weekly], time_zone: str) -> str:
    others = [other for other in options if other is not option]
    of_all = "of the two" if len(options) == 2 else "of the three"
    weekday, part = _place(option, time_zone)
    if all(option.held_dates > other.held_dates for other in others):
        return f"The most dates {of_all}."
    if all(option.greatest_burden < other.greatest_burden for other in others):
        return f"The easiest hour {of_all}."
    if all(part is not _place(other, time_zone)[1] for other in others):
        return f"The only one {of_all} in the {part}."
    if all(weekday != _place(other, time_zone)[0] for other in others):
        return f"The only one {of_all} on {weekday}s."
    return f"The only one {of_all} on {weekday} {part}s."


def _place(option: Weekly, time_zone: str) -> tuple[str, Part]:
    first = option.first_at
    return f"{first.astimezone(zone(time_zone)):%A}", part_of(first, time_zone)
