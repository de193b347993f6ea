"""Wrap up on the page: what is typed there is never lost, and every fault is said."""

from datetime import timedelta

import pytest

from bookings.models import Assessment, Booking, Mark
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import School, as_user, text_of
from tests.functional.pages.wrapping_up import FILLED, just_over, sent, where


@pytest.fixture
def lesson(school: School, hands: Hands) -> Booking:
    return just_over(school, hands)


def test_every_fault_is_said_at_once_at_its_field(school: School, lesson: Booking) -> None:
    """Nobody came, four next steps, minutes without a task, a date that is none."""
    faults = {
        "attendance": "",
        "next_steps": "a\nb\nc\nd",
        "what_0": "",
        "goal_on": "soon",
        "next_date": "book:soon",
    }
    refused = as_user(school.ilse.user).post(where(lesson), sent("", **faults))
    page = text_of(refused)
    assert refused.status_code == 422
    for name in ("attendance", "next_steps", "what_0", "goal_on", "next_date"):
        assert f'href="#id_{name}"' in page
        assert f'id="id_{name}_error"' in page
    assert "The fourth finger arrives late." in page
    assert not Assessment.objects.exists()


def test_releasing_without_a_goal_says_so_at_the_goal(school: School, lesson: Booking) -> None:
    """The draft is kept; the page that asks once more is not reached."""
    ilse = as_user(school.ilse.user)
    refused = ilse.post(where(lesson), sent("", goal="", then="release"))
    assert refused.status_code == 422
    assert 'href="#id_goal"' in text_of(refused)
    assert Assessment.objects.get().goal == ""


@pytest.mark.parametrize(
    "text", ["x" * 2000, "🎶 اليد اليسرى وحدها", "\u202eright to left\u202c", "<b>&amp;</b>"]
)
def test_any_text_comes_back_as_it_was_typed(school: School, lesson: Booking, text: str) -> None:
    """As long as the field takes, emoji, right-to-left, markup."""
    ilse = as_user(school.ilse.user)
    assert ilse.post(where(lesson), sent("", obstacle=text)).status_code == 302
    assert Assessment.objects.get().obstacle == text
    assert "<b>&amp;</b>" not in text_of(ilse.get(where(lesson)))


def test_ten_thousand_characters_are_refused_and_kept(school: School, lesson: Booking) -> None:
    """The field says how many it takes, and still holds what was typed."""
    long = "A" * 10_000
    refused = as_user(school.ilse.user).post(where(lesson), sent("", goal=long))
    assert refused.status_code == 422
    assert 'href="#id_goal"' in text_of(refused)
    assert long in text_of(refused)


def test_two_tabs_are_told_of_each_other(school: School, lesson: Booking, hands: Hands) -> None:
    """The later one keeps what was typed in it, and replaces the other only when pressed again."""
    ilse = as_user(school.ilse.user)
    page = text_of(ilse.get(where(lesson)))
    ilse.post(where(lesson), sent(page))
    hands.at += timedelta(minutes=1)
    late = ilse.post(where(lesson), sent(page, goal="Another goal"))
    assert late.status_code == 412
    assert "Another goal" in text_of(late)
    assert Assessment.objects.get().goal == FILLED["goal"]
    again = ilse.post(where(lesson), sent(text_of(late), goal="Another goal"))
    assert (again.status_code, Assessment.objects.get().goal) == (302, "Another goal")


def test_a_fault_does_not_hide_another_tab(school: School, lesson: Booking, hands: Hands) -> None:
    """A form that comes back with a fault, or with a plan, still names the draft it began with."""
    ilse = as_user(school.ilse.user)
    page = text_of(ilse.get(where(lesson)))
    ilse.post(where(lesson), sent(page))
    hands.at += timedelta(minutes=1)
    for more in ({"level": "eleven"}, {"then": "usual"}):
        back = text_of(ilse.post(where(lesson), sent(page, goal="Another goal", **more)))
        assert ilse.post(where(lesson), sent(back, goal="Another goal")).status_code == 412


def test_a_form_that_saves_itself_is_answered_briefly(school: School, lesson: Booking) -> None:
    """With when the draft was saved and the dates, or with why it was not; never a whole page."""
    ilse = as_user(school.ilse.user)
    saved = ilse.post(where(lesson), sent("", then="auto", attendance=""))
    assert "Draft saved 16:30" in text_of(saved)
    assert "<h1" not in text_of(saved)
    assert not Mark.objects.exists()
    other = ilse.post(where(lesson), sent("", then="auto", goal="Another goal"))
    assert (other.status_code, "Not saved" in text_of(other)) == (412, True)


def test_the_usual_plan_fills_the_rows(school: School, lesson: Booking) -> None:
    """By level; what was typed stays, and nothing is saved yet."""
    page = text_of(as_user(school.ilse.user).post(where(lesson), sent("", then="usual")))
    assert "An older piece, played through" in page
    assert "The fourth finger arrives late." in page
    assert not Assessment.objects.exists()


def test_the_form_is_switched_and_nothing_is_lost(school: School, lesson: Booking) -> None:
    """A full assessment becomes a short note and back."""
    ilse = as_user(school.ilse.user)
    page = text_of(ilse.post(where(lesson), sent("", then="switch")))
    assert 'name="form" value="lesson-note"' in page
    assert "The fourth finger arrives late." in page
