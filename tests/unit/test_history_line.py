"""The drawing of a student's notes: where dots, steps and bands lie."""

from dataclasses import dataclass, field
from datetime import date

from bookings.pages.history_line import Dot, line_of


@dataclass(frozen=True)
class Noted:
    heard_on: date
    level: int
    bands: dict[str, int] = field(default_factory=dict)


def test_days_lie_across_and_levels_upwards() -> None:
    """The first at the left, the last at the right; a higher level is nearer to the top."""
    line = line_of(
        [Noted(date(2027, 1, 1), 3), Noted(date(2027, 1, 3), 3), Noted(date(2027, 1, 5), 4)]
    )
    assert [dot.x for dot in line.dots] == ["6.00%", "52.00%", "98.00%"]
    low, same, high = (dot.y for dot in line.dots)
    assert low == same > high > 0
    assert line.height > low
    assert [level for level, _ in line.levels] == [3, 4]


def test_a_step_goes_level_then_up() -> None:
    """The level holds until the note that changes it."""
    line = line_of([Noted(date(2027, 1, 1), 3), Noted(date(2027, 1, 5), 4)])
    across, up = line.strokes
    assert across.start.y == across.end.y == line.dots[0].y
    assert (up.start.x, up.end) == ("98.00%", line.dots[1])


def test_notes_of_one_day_stand_in_one_place() -> None:
    """One note, or two of one day, divide by nothing."""
    assert line_of([Noted(date(2027, 1, 1), 3)]).strokes == []
    assert line_of([Noted(date(2027, 1, 1), 3)] * 2).dots == [Dot("6.00%", 10)] * 2


def test_each_technique_has_a_row_in_words() -> None:
    """A freer band lies higher; a note without that band leaves a gap."""
    notes = [
        Noted(date(2027, 1, 1), 3, {"tone": 1}),
        Noted(date(2027, 1, 3), 3, {"rhythm": 2}),
        Noted(date(2027, 1, 5), 3, {"tone": 4}),
    ]
    tone, rhythm = line_of(notes).rows
    assert (tone.name, tone.words) == ("tone", "beginning, then free")
    assert tone.dots[0].y > tone.dots[1].y
    assert [dot.x for dot in rhythm.dots] == ["52.00%"]
