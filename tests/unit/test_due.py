"""Who is due a review: the order, the reasons, ties."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookings.domain.due import NEAR, Due, Progress, Why, due, why_due

TODAY = date(2027, 3, 1)


def on(days: int) -> date:
    """A date so many days from today."""
    return TODAY + timedelta(days=days)


def progress(student_id: int = 1, **said: object) -> Progress:
    """Somebody seen last week, with nothing else to tell."""
    plain = {"last_on": on(-7), "next_on": None, "follow_up_on": None, "has_obstacle": False}
    return Progress(student_id, **{**plain, **said})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({}, ()),
        ({"follow_up_on": on(14)}, (Why.FOLLOW_UP,)),
        ({"follow_up_on": on(15)}, ()),
        ({"follow_up_on": on(0), "last_on": on(-14)}, (Why.FOLLOW_UP,)),
        ({"follow_up_on": on(-60), "last_on": on(-90)}, (Why.FOLLOW_UP, Why.UNSEEN)),
        ({"follow_up_on": on(0), "last_on": on(-13)}, ()),
        ({"follow_up_on": on(-3), "last_on": on(-20), "next_on": on(14)}, ()),
        ({"follow_up_on": on(-3), "last_on": on(-20), "next_on": on(15)}, (Why.FOLLOW_UP,)),
        ({"follow_up_on": on(10), "last_on": on(-20), "next_on": on(24)}, ()),
        ({"last_on": on(-41)}, ()),
        ({"last_on": on(-42)}, (Why.UNSEEN,)),
        ({"last_on": None}, (Why.UNSEEN,)),
        ({"last_on": None, "next_on": on(90)}, ()),
        ({"has_obstacle": True}, (Why.OBSTACLE,)),
        ({"has_obstacle": True, "next_on": on(1)}, ()),
        ({"has_obstacle": True, "follow_up_on": on(28)}, ()),
        ({"has_obstacle": True, "last_on": on(-42)}, (Why.UNSEEN, Why.OBSTACLE)),
    ],
)
def test_why_a_student_is_due(said: dict[str, object], why: tuple[Why, ...]) -> None:
    """A follow-up from 14 days before its date on, six weeks unseen, an open obstacle without a
    lesson ahead; a lesson near the follow-up date is the follow-up.
    """
    assert why_due(progress(**said), TODAY) == why


def test_the_order_is_follow_up_date_then_time_unseen_then_obstacle() -> None:
    """Each reason by its own date, the oldest first; whoever had no lesson is unseen longest."""
    rows = [
        progress(1, has_obstacle=True),
        progress(2, last_on=on(-50)),
        progress(3, follow_up_on=on(14), last_on=on(-20)),
        progress(4, last_on=None),
        progress(5, follow_up_on=on(-9), last_on=on(-30)),
        progress(6, last_on=on(-80)),
        progress(7),
    ]
    assert [one.student_id for one in due(rows, TODAY)] == [5, 3, 4, 6, 2, 1]


def test_equal_ones_keep_their_order() -> None:
    """Rows come by name, and stay so where nothing tells them apart."""
    same = [progress(number, last_on=on(-42)) for number in (8, 3, 5)]
    assert [one.student_id for one in due(same, TODAY)] == [8, 3, 5]


@pytest.mark.parametrize(
    ("said", "sentences"),
    [
        ({"follow_up_on": on(1), "last_on": on(-20)}, ("The follow-up date is in 1 day.",)),
        ({"follow_up_on": TODAY, "last_on": on(-20)}, ("The follow-up date is today.",)),
        ({"follow_up_on": on(-2), "last_on": on(-20)}, ("The follow-up date was 2 days ago.",)),
        ({"last_on": on(-48)}, ("Not seen for 6 weeks.",)),
        ({"last_on": None}, ("No lesson yet.",)),
        ({"has_obstacle": True}, ("An obstacle is open, and no lesson is booked.",)),
    ],
)
def test_each_reason_is_a_sentence(said: dict[str, object], sentences: tuple[str, ...]) -> None:
    """Days until or since the follow-up date, whole weeks unseen."""
    row = progress(**said)
    assert due([row], TODAY) == [Due(1, why_due(row, TODAY), sentences, row.last_on)]


days = st.integers(-800, 800).map(on)
rows = st.builds(
    Progress,
    student_id=st.integers(1, 9),
    last_on=st.none() | st.integers(-800, 0).map(on),
    next_on=st.none() | st.integers(0, 800).map(on),
    follow_up_on=st.none() | days,
    has_obstacle=st.booleans(),
)


@given(st.lists(rows, max_size=12))
def test_nobody_is_lost_or_told_twice(found: list[Progress]) -> None:
    """Exactly those with a reason are in the list, and each reason has a sentence."""
    listed = due(found, TODAY)
    expected = sorted(row.student_id for row in found if why_due(row, TODAY))
    assert sorted(one.student_id for one in listed) == expected
    assert all(one.why and len(one.why) == len(one.sentences) for one in listed)


@given(rows)
def test_a_lesson_booked_now_makes_nobody_due(row: Progress) -> None:
    """Whoever comes within 14 days is not due, whatever else is true."""
    assert why_due(row._replace(next_on=TODAY + NEAR), TODAY) == ()
