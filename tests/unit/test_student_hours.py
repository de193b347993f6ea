"""The hours that a family says: what can be kept, and what a guardian is shown to confirm."""

from datetime import date

import pytest

from bookings.domain.errors import Refused
from bookings.domain.student_hours import (
    NOTHING_SAID,
    SaidHours,
    UsualHours,
    WishedWindow,
    check_said,
    to_confirm,
    usual_hours,
)
from bookings.domain.vocabulary import Wish

GLADLY = WishedWindow(0, 960, 1080, Wish.GLADLY)


@pytest.mark.parametrize(
    ("windows", "code", "words"),
    [
        ([(0, 600, 600, Wish.GLADLY)], "end-before-start", "Monday 10:00-10:00"),
        ([(1, 1320, 120, Wish.NEVER)], "end-before-start", "past midnight takes two windows"),
        ([(0, 602, 700, Wish.GLADLY)], "invalid", "whole 5 minutes"),
        ([(0, 1380, 1445, Wish.GLADLY)], "invalid", "00:00 to 24:00"),
        ([(7, 600, 660, Wish.GLADLY)], "invalid", "weekday"),
        ([(0, 600, 660, Wish.GLADLY), (0, 630, 700, Wish.GLADLY)], "invalid", "join them"),
        (
            [(0, 600, 660, Wish.GLADLY), (0, 630, 700, Wish.NEVER)],
            "invalid",
            "10:00-11:00 is “gladly” and 10:30-11:40 is “never”: choose one word for each hour.",
        ),
    ],
)
def test_hours_that_cannot_be_kept_are_refused(windows, code, words) -> None:
    """With the code, the window at fault and a sentence that says what to do."""
    with pytest.raises(Refused) as refused:
        check_said([WishedWindow(*row) for row in windows], None)
    assert (refused.value.code, refused.value.data["position"]) == (code, len(windows) - 1)
    assert words in refused.value.detail


def test_hours_that_touch_and_midnight_at_the_end_are_kept() -> None:
    """Hours across midnight are two windows; no hours at all are kept, too."""
    rows = [(0, 0, 600, Wish.NEVER), (0, 600, 1440, Wish.LAST), (1, 0, 1440, Wish.NEVER)]
    check_said([WishedWindow(*row) for row in rows], (480, 930))
    check_said([], None)


@pytest.mark.parametrize("school", [(930, 480), (480, 480), (481, 930)])
def test_school_hours_that_cannot_be_kept_are_refused(school) -> None:
    """An end before the start, no length, and off the 5 minutes."""
    with pytest.raises(Refused) as refused:
        check_said([], school)
    assert refused.value.data["field"] == "school"


def test_a_guardian_is_shown_the_usual_hours_until_something_is_said() -> None:
    """Evenings and school are filled in as “never”; afterwards what was said is shown."""
    usual = UsualHours((480, 930), 1170)
    shown = to_confirm(NOTHING_SAID, usual)
    assert shown.school == (480, 930)
    assert {(row.weekday, row.opens, row.closes, row.wish) for row in shown.windows} == {
        (weekday, 1170, 1440, Wish.NEVER) for weekday in range(7)
    }
    spoken = SaidHours((GLADLY,))
    assert to_confirm(spoken, usual) == spoken
    assert to_confirm(NOTHING_SAID, None) == NOTHING_SAID


def test_somebody_born_on_29_february_is_a_year_older_on_1_march() -> None:
    """A birthday that a year does not have: of age on 1 March 2035, ten on 1 March 2027."""
    adult_on = date(2035, 3, 1)
    assert usual_hours(adult_on, date(2027, 2, 28)) == UsualHours((480, 930), 1170)
    assert usual_hours(adult_on, date(2027, 3, 1)) == UsualHours((480, 930), 1230)
