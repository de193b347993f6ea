"""Hours as people type them: with any dash, any spaces, with or without minutes."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookings.domain.typed_hours import read_clock, read_hours, read_week, say_hours

MORNING, AFTERNOON = (540, 720), (840, 1080)


@pytest.mark.parametrize(
    "typed",
    [
        *("9-12", "9:00 - 12", "9.00–12.00", "09:00-12:00", "9—12", "9−12", "9 ‐ 12", "9‑12"),
        *(" 9 -12 ", "9 to 12", "9 until 12", "9:00\u00a0–\u00a012:00", "９：００－１２：００"),
        *("9h-12h", "9h00-12h00", "09-12,", "9 TO 12"),
    ],
)
def test_one_window_is_read_however_it_is_typed(typed: str) -> None:
    """Nine to twelve, by any dash."""
    assert read_hours(typed).windows == (MORNING,)
    assert read_hours(typed).faults == ()


@pytest.mark.parametrize(
    "typed",
    ["09:00-12:00, 14-18", "9-12;14-18", "9-12 14-18", "9 - 12 and 14 - 18", "9–12\n14–18"],
)
def test_two_windows_are_read_with_whatever_stands_between(typed: str) -> None:
    """A comma, a semicolon, a space, a word or a new line."""
    assert read_hours(typed).windows == (MORNING, AFTERNOON)


@pytest.mark.parametrize("typed", ["", "  ", " , ", "\n"])
def test_an_empty_line_is_a_day_without_teaching(typed: str) -> None:
    """No windows and no faults."""
    assert (read_hours(typed).windows, read_hours(typed).faults) == ((), ())


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("nine to ten", "“nine to ten” cannot be read"),
        ("9", "“9” cannot be read"),
        ("9-12-14", "“9-12-14” cannot be read"),
        ("9am-5pm", "“9am-5pm” cannot be read"),
        ("9:75-12", "“9:75-12” cannot be read"),
        ("25-26", "“25-26”: choose times from 00:00 to 24:00."),
        ("24:30-24:45", "“24:30-24:45”: choose times from 00:00 to 24:00."),
    ],
)
def test_what_cannot_be_read_is_said_as_typed(typed: str, said: str) -> None:
    """The sentence quotes what was typed and shows how to write it."""
    (fault,) = read_hours(typed).faults
    assert fault.startswith(said)
    assert read_hours(typed).windows == ()


def test_each_part_of_a_line_has_its_own_fault() -> None:
    """What can be read is read, and each of the others is named."""
    read = read_hours("9-12, noon, 14-18, 30-31")
    assert read.windows == (MORNING, AFTERNOON)
    assert [fault[: fault.index("”")] for fault in read.faults] == ["“noon", "“30-31"]


def test_every_fault_of_a_week_stands_at_its_day() -> None:
    """Unreadable, backwards, off the five minutes and overlapping: all at once."""
    week = read_week(["noon", "12-9", "", "9:02-10", "9-12, 11-13", "9-12", ""])
    assert week.windows == (
        (1, 720, 540),
        (3, 542, 600),
        (4, 540, 720),
        (4, 660, 780),
        (5, 540, 720),
    )
    assert sorted(week.faults) == [0, 1, 3, 4]
    assert week.faults[1] == (
        "12:00-09:00: choose an end after the start; past midnight takes two windows.",
    )
    assert week.faults[3] == ("09:02-10:00: choose times on whole 5 minutes.",)
    assert week.faults[4] == ("09:00-12:00 and 11:00-13:00 overlap: join them or move one.",)


@given(st.lists(st.tuples(st.integers(0, 1440), st.integers(0, 1440)), max_size=4))
def test_what_is_said_is_read_back(windows: list[tuple[int, int]]) -> None:
    """Saying and reading are each other's reverse."""
    assert read_hours(say_hours(windows)).windows == tuple(windows)


@given(st.text(max_size=130))
def test_no_text_breaks_the_reader(text: str) -> None:
    """Whatever is typed gives windows inside the day, or faults."""
    assert all(0 <= minute <= 1440 for window in read_hours(text).windows for minute in window)


@pytest.mark.parametrize(
    ("typed", "minute"),
    [("9", 540), ("9:30", 570), ("09.30", 570), ("24:00", 1440), (" 0 ", 0)],
)
def test_a_time_of_day_is_read(typed: str, minute: int) -> None:
    """With or without minutes, with a colon or a point."""
    assert read_clock(typed) == minute


@pytest.mark.parametrize("typed", ["", "24:05", "9:5", "noon", "-9", "9-12", "99999"])
def test_no_time_of_day(typed: str) -> None:
    """None, never a guess."""
    assert read_clock(typed) is None
