"""What a note may say: its dates, its short texts, and what it needs before it is released."""

from datetime import date

import pytest

from bookings.domain import notes
from bookings.domain.errors import Refused

TODAY = date(2027, 3, 8)


def refused(field: str, act) -> None:
    with pytest.raises(Refused) as caught:
        act()
    assert (caught.value.code, caught.value.data["field"]) == ("invalid", field)


@pytest.mark.parametrize(
    ("heard_on", "adult_on"),
    [
        (date(2027, 3, 9), None),
        (date(1927, 3, 7), None),
        (date(2016, 5, 31), date(2034, 6, 1)),
        (date(2009, 2, 27), date(2027, 2, 28)),
        (date(2010, 2, 27), date(2028, 2, 29)),
    ],
)
def test_a_student_is_not_heard_tomorrow_or_before_birth(heard_on, adult_on) -> None:
    """A birth is 18 years before coming of age, or, for a known adult, 100 years ago."""
    refused("heard_on", lambda: notes.check_heard_on(heard_on, today=TODAY, adult_on=adult_on))


@pytest.mark.parametrize(
    ("heard_on", "adult_on"),
    [
        (TODAY, None),
        (date(1927, 3, 8), None),
        (date(2016, 6, 1), date(2034, 6, 1)),
        (date(2010, 2, 28), date(2028, 2, 29)),
    ],
)
def test_the_first_and_last_day_of_a_life_so_far_are_taken(heard_on, adult_on) -> None:
    """Both ends are included; a birth on 29 February counts from the 28th where there is none."""
    notes.check_heard_on(heard_on, today=TODAY, adult_on=adult_on)


def test_a_goal_lies_between_the_lesson_and_two_years_later() -> None:
    """Both ends are included, and a goal may have no date."""
    for fine in (None, TODAY, date(2029, 3, 8)):
        notes.check_goal_on(fine, TODAY)
    for wrong in (date(2027, 3, 7), date(2029, 3, 9)):
        refused("goal_on", lambda wrong=wrong: notes.check_goal_on(wrong, TODAY))


def test_a_follow_up_is_in_two_four_or_six_weeks() -> None:
    """Source: TRADE.md 1.7, the school's own proposal."""
    assert notes.follow_up_on(TODAY, None) is None
    assert notes.follow_up_on(TODAY, 4) == date(2027, 4, 5)
    refused("follow_up_weeks", lambda: notes.follow_up_on(TODAY, 3))


def test_short_texts_are_few_and_short() -> None:
    """Three next steps, eight pieces; empty lines are left out and blanks are joined."""
    assert notes.checked_steps([" Close  the hand ", "", "\t"]) == ["Close the hand"]
    refused("next_steps", lambda: notes.checked_steps(["a"] * 4))
    refused("next_steps", lambda: notes.checked_steps(["a" * 301]))
    refused("heard", lambda: notes.checked_heard(["a"] * 9))
    refused("heard", lambda: notes.checked_heard(["a" * 201]))


@pytest.mark.parametrize(
    ("form", "said", "missing"),
    [
        ("assessment", {}, ["next_steps", "goal"]),
        ("assessment", {"next_steps": ["a"], "goal": " "}, ["goal"]),
        ("assessment", {"next_steps": ["a"], "goal": "b"}, []),
        ("lesson-note", {"goal": "b"}, ["heard", "next_steps", "practice"]),
        ("lesson-note", {"heard": ["a"]}, []),
        ("lesson-note", {"next_steps": ["a"]}, []),
        ("lesson-note", {"has_practice": True}, []),
    ],
)
def test_what_a_release_needs(form, said, missing) -> None:
    """An assessment names a next step and a goal; a lesson note names any one thing."""
    nothing = {"heard": [], "next_steps": [], "goal": "", "has_practice": False}
    assert notes.missing_for_release(form, **{**nothing, **said}) == missing


def test_what_became_of_a_goal_is_said_by_a_later_note() -> None:
    """The nearest goal before is meant, over notes without one; the last goal still waits."""
    told = [("Study 3", ""), ("", ""), ("Study 4", "met"), ("", "partly"), ("Study 5", "met")]
    assert notes.outcomes(told) == ["met", "", "met", "", ""]
    assert notes.outcomes([("", "met")]) == [""]
