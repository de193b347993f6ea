"""Wrap up on the page: filled in from top to bottom, kept as a draft, released once more asked."""

import re
from datetime import timedelta
from typing import Any

import pytest

from accounts.models import Student
from bookings.models import Assessment, AssessmentReading, Booking, Intake, Mark, ProposedTimes
from tests.cast import NOW, at, make_assessment, make_booking, make_meeting
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import School, as_user, text_of

START = at("2027-03-01T16:00Z")
NEXT = "book:2027-03-29T15:00:00Z"
FILLED = {
    "attendance": "PRESENT",
    "form": "assessment",
    "level": 4,
    "unit": 2,
    "heard": "Four studies in three-four, no. 2\nPlacing drill",
    "band_tone": "3",
    "obstacle": "The fourth finger arrives late.",
    "next_steps": "Place the fourth finger first",
    "goal": "Ten placed chords at 72",
    "goal_on": "2027-03-29",
    "what_0": "Placing drill, hands apart",
    "minutes_0": "10",
    "follow_up_weeks": "4",
}


@pytest.fixture
def lesson(school: School, hands: Hands) -> Booking:
    """Noor's consultation today, 16:00 to 16:25, over for five minutes."""
    hands.at = START + timedelta(minutes=30)
    return make_booking(make_meeting(school.consultation, school.ilse, START), school.noor)


def sent(page: str, **more: Any) -> dict[str, Any]:
    read = re.search(r'name="read" value="([^"]*)"', page)
    return {**FILLED, "read": read[1] if read else "", **more}


def where(lesson: Booking) -> str:
    return f"/wrap-up/{lesson.pk}/"


def test_the_page_opens_with_dates_four_weeks_on(school: School, lesson: Booking) -> None:
    """Three starts around the day, in both clocks, and all of them proposed until an answer-by."""
    page = text_of(as_user(school.ilse.user).get(where(lesson)))
    assert "Monday 29 March, 16:00" in page
    assert "11:00 New York" in page
    assert len(re.findall(r'value="book:', page)) == 3
    assert "Propose all 3; the family chooses by" in page


def test_the_first_button_keeps_a_draft(school: School, lesson: Booking) -> None:
    """Enter presses it; the register is marked, and opening the page again finds the draft."""
    ilse = as_user(school.ilse.user)
    page = text_of(ilse.get(where(lesson)))
    assert re.findall(r'name="then" value="(\w+)"', page)[0] == "keep"
    kept = ilse.post(where(lesson), sent(page, next_date=NEXT))
    assert kept.status_code == 302
    note = Assessment.objects.get()
    assert (note.state, note.meeting_id, Mark.objects.get().attendance) == (
        "draft",
        lesson.meeting_id,
        "PRESENT",
    )
    again = text_of(ilse.get(kept.url))
    assert "Draft saved 16:30" in again
    assert "Place the fourth finger first" in again
    assert f'value="{NEXT}" checked' in again


def test_releasing_shows_the_text_and_the_date_once_more(school: School, lesson: Booking) -> None:
    """One press on that page marks, releases and books."""
    ilse = as_user(school.ilse.user)
    page = text_of(ilse.get(where(lesson)))
    asked = ilse.post(where(lesson), sent(page, next_date=NEXT, then="release", level=5))
    shown = text_of(ilse.get(asked.url))
    for said in ("Place the fourth finger first", "Monday 29 March", "to level 5, unit 2"):
        assert said in shown
    assert Assessment.objects.get().state == "draft"
    read = {"read": re.search(r'name="read" value="([^"]+)"', shown)[1]}  # type: ignore[index]
    action = f"{where(lesson)}release/"
    done = ilse.post(action, {**read, "next": NEXT, "adopt": "on"})
    assert done.url == "/today/?on=2027-03-01"
    assert Assessment.objects.get().state == "released"
    assert Booking.objects.of(school.noor).filter(starts_at=at("2027-03-29T15:00Z")).exists()
    assert Student.objects.get(pk=school.noor.pk).level == 5
    twice = ilse.post(action, {**read, "next": NEXT})
    assert (twice.status_code, Booking.objects.of(school.noor).count()) == (409, 3)


def test_a_time_taken_meanwhile_keeps_what_was_typed(school: School, lesson: Booking) -> None:
    """The page says which part was refused; the draft is there and nothing has been released."""
    ilse = as_user(school.ilse.user)
    asked = ilse.post(where(lesson), sent("", next_date=NEXT, then="release"))
    shown = text_of(ilse.get(asked.url))
    make_booking(
        make_meeting(school.consultation, school.ilse, at("2027-03-29T15:00Z")), school.marlo
    )
    late = ilse.post(f"{where(lesson)}release/", {**sent(shown), "next": NEXT})
    assert late.status_code == 409
    assert "This is about the next date." in text_of(late)
    assert Assessment.objects.get().state == "draft"


def test_all_times_are_proposed(school: School, lesson: Booking) -> None:
    """The last choice but one holds them for the family."""
    ilse = as_user(school.ilse.user)
    page = text_of(ilse.get(where(lesson)))
    every = re.search(r'value="(propose:[^"]+)"', page)[1]  # type: ignore[index]
    asked = ilse.post(where(lesson), sent(page, next_date=every, then="release"))
    shown = text_of(ilse.get(asked.url))
    ilse.post(f"{where(lesson)}release/", {**sent(shown), "next": every})
    assert ProposedTimes.objects.get().times.count() == 3


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


def test_a_student_who_did_not_come_needs_no_note(school: School, lesson: Booking) -> None:
    """The register is kept; the next date can still be agreed."""
    ilse = as_user(school.ilse.user)
    absent = {"attendance": "ABSENT_WITHOUT_NOTICE", "next_date": NEXT, "follow_up_weeks": "4"}
    asked = ilse.post(
        where(lesson), {**absent, "form": "assessment", "level": 4, "unit": 2, "then": "release"}
    )
    assert "No note is released." in text_of(ilse.get(asked.url))
    ilse.post(f"{where(lesson)}release/", {"next": NEXT})
    assert not Assessment.objects.exists()
    assert Booking.objects.of(school.noor).filter(starts_at=at("2027-03-29T15:00Z")).exists()


def test_the_last_notes_are_shown_and_their_reading_is_logged(
    school: School, lesson: Booking
) -> None:
    """Two of the instructor's own, the latest first."""
    for days in (9, 8, 7):
        when = NOW - timedelta(days=days)
        make_assessment(
            school.noor, school.ilse, state="released", released_at=when, goal=f"Goal {days}"
        )
    page = text_of(as_user(school.ilse.user).get(where(lesson)))
    assert page.index("Goal 7") < page.index("Goal 8")
    assert "Goal 9" not in page
    assert AssessmentReading.objects.count() == 2


def test_what_hurts_is_for_the_instructor_of_the_meeting(school: School, lesson: Booking) -> None:
    """It stands beside the form, and not on the page that shows what the student will read."""
    intake = Intake(booking=lesson, written_at=NOW)
    intake.hurts = "canary-91b2, the left wrist"
    intake.save()
    ilse = as_user(school.ilse.user)
    assert "canary-91b2" in text_of(ilse.get(where(lesson)))
    asked = ilse.post(where(lesson), sent("", then="release"))
    assert "canary-91b2" not in text_of(ilse.get(asked.url))
    for user in (school.noor.user, school.wren.user, school.dag, school.hedda):
        assert "canary-91b2" not in text_of(as_user(user).get(where(lesson)))


def test_before_the_lesson_there_is_nothing_to_wrap_up(school: School) -> None:
    """The page says when it opens; nobody but the instructor finds it at all."""
    address = f"/wrap-up/{school.booking.pk}/"
    early = as_user(school.ilse.user).get(address)
    assert (early.status_code, "when the lesson begins" in text_of(early)) == (409, True)
    for user in (school.noor.user, school.wren.user, school.dag):
        assert as_user(user).get(address).status_code == 404
