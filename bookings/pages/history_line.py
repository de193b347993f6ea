"""A student's notes as a line through time, drawn by the server. Pure: notes in, numbers out.

Positions across are percentages of the width, so the drawing stretches while its letters do not.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import Protocol

from bookings.domain.techniques import BAND_WORDS

_STEP, _TOP = 20, 10  # pixels: one level, and the room above the highest
_BAND = 5  # pixels between two bands
BAND_HEIGHT = 28
_LEFT, _RIGHT = 6.0, 2.0  # of the width: room for the levels and for the last dot


class Noted(Protocol):
    """What is drawn of a note."""

    @property
    def heard_on(self) -> date: ...
    @property
    def level(self) -> int: ...
    @property
    def bands(self) -> dict[str, int]: ...


@dataclass(frozen=True, slots=True)
class Dot:
    """A dot at `x`, a percentage such as "52.08%", and `y`, pixels from the top."""

    x: str
    y: int


@dataclass(frozen=True, slots=True)
class Stroke:
    """A straight stroke between two dots."""

    start: Dot
    end: Dot


@dataclass(frozen=True, slots=True)
class Row:
    """The bands of one technique: dots, the higher the freer, and the same in words."""

    name: str
    dots: list[Dot]
    words: str


@dataclass(frozen=True, slots=True)
class Line:
    """The level as steps with a dot a note, `height` pixels high, and a row for each technique."""

    height: int
    levels: list[tuple[int, int]]
    dots: list[Dot]
    strokes: list[Stroke]
    rows: list[Row]


def line_of(notes: Sequence[Noted]) -> Line:
    """The drawing of these notes, the earliest first; there is at least one."""
    places = _places([note.heard_on for note in notes])
    highest = max(note.level for note in notes)
    lowest = min(note.level for note in notes)
    heights = {level: _TOP + _STEP * (highest - level) for level in range(lowest, highest + 1)}
    dots = [Dot(x, heights[note.level]) for x, note in zip(places, notes, strict=True)]
    return Line(
        height=_TOP * 2 + _STEP * (highest - lowest),
        levels=[(level, y + 4) for level, y in heights.items()],
        dots=dots,
        strokes=[stroke for pair in pairwise(dots) for stroke in _steps(*pair)],
        rows=list(_rows(notes, places)),
    )


def _places(days: Sequence[date]) -> list[str]:
    """Where each day lies between the first and the last."""
    first, whole = min(days), (max(days) - min(days)).days or 1
    reach = 100 - _LEFT - _RIGHT
    return [f"{_LEFT + reach * (day - first).days / whole:.2f}%" for day in days]


def _steps(one: Dot, other: Dot) -> Iterable[Stroke]:
    """Level with the first until the second, then up or down to it."""
    corner = Dot(other.x, one.y)
    yield Stroke(one, corner)
    if corner != other:
        yield Stroke(corner, other)


def _rows(notes: Sequence[Noted], places: Sequence[str]) -> Iterable[Row]:
    for name in dict.fromkeys(name for note in notes for name in note.bands):
        heard = [
            (note.bands[name], x)
            for note, x in zip(notes, places, strict=True)
            if name in note.bands
        ]
        dots = [Dot(x, BAND_HEIGHT - 4 - _BAND * (band - 1)) for band, x in heard]
        yield Row(name, dots, ", then ".join(BAND_WORDS[band] for band, _ in heard))
