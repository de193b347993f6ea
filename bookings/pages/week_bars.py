"""Weeks of teaching hours as bars, drawn by the server. Pure: minutes in, percentages out."""

from collections.abc import Sequence
from dataclasses import dataclass

from bookings.domain.week_use import WeekUse


@dataclass(frozen=True, slots=True)
class Part:
    """A stretch of a bar, by what became of the hours: `kind` is a class of the stylesheet."""

    kind: str
    x: str
    width: str


@dataclass(frozen=True, slots=True)
class WeekBar:
    """A week with the parts of its bar; all bars of a drawing have one scale."""

    week: WeekUse
    parts: list[Part]


def week_bars(weeks: Sequence[WeekUse]) -> list[WeekBar]:
    """A bar for each week: booked, kept, lost, free, and what is booked outside the hours.

    The longest week is as wide as the drawing.
    """
    widest = max((week.published + week.booked_outside for week in weeks), default=0)
    return [WeekBar(week, _parts(week, max(widest, 1))) for week in weeks]


def _parts(week: WeekUse, widest: int) -> list[Part]:
    lengths = [
        ("booked", week.booked - week.booked_outside),
        ("kept", week.kept),
        ("lost", week.lost),
        ("free", week.free),
        ("outside", week.booked_outside),
    ]
    parts, so_far = [], 0
    for kind, minutes in lengths:
        if minutes:
            x, width = (f"{100 * part / widest:.2f}%" for part in (so_far, minutes))
            parts.append(Part(kind, x, width))
        so_far += minutes
    return parts
