"""Wrap up on the page: filled in from top to bottom, kept as a draft, released once more asked."""

import re
from datetime import timedelta

import pytest

from accounts.models import Student
from bookings.models import Assessment, AssessmentReading, Booking, Intake, Mark, ProposedTimes
from tests.cast import NOW, at, make_assessment, make_booking, make_meeting
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import School, as_user, text_of
from tests.functional.pages.wrapping_up import NEXT, just_over, sent, where


@pytest.fixture
def lesson(school: School, hands: Hands) -> Booking:
    return just_over(school, hands)


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
    said = "wrapped up. The note is released, and the family gets an email."
    assert said in text_of(ilse.get(done.url))
    assert Assessment.objects.get().state == "released"
    assert Booking.objects.of(school.noor).filter(starts_at=at("2027-03-29T15:00Z")).exists()
    assert Student.objects.get(pk=school.noor.pk).level == 5
    twice = ilse.post(action, {**read, "next": NEXT})
    assert (twice.status_code, Booking.objects.of(school.noor).count()) == (409, 3)


def test_a_released_note_is_no_missing_draft(school: School, lesson: Booking) -> None:
    """The page says that there is no draft only where one can be written."""
    ilse = as_user(school.ilse.user)
    assert "No draft yet." in text_of(ilse.get(where(lesson)))
    make_assessment(
        lesson.student, school.ilse, meeting=lesson.meeting, state="released", released_at=NOW
    )
    page = text_of(ilse.get(where(lesson)))
    assert "The note is released." in page and "No draft yet." not in page


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
