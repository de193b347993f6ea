"""Today: practice, goals, lessons of a weekly place, marks, and students who are due a review."""

import re
from datetime import timedelta

import pytest

from bookings.models import Booking, Mark
from tests.cast import NOW, make_assessment, make_booking, make_meeting, taught
from tests.functional.pages.school import School, as_user, text_of
from tests.school.weekly import weekly_place

pytestmark = pytest.mark.sql


def today(school: School, query: str = "") -> str:
    """Ilse's page as it reads, with one space for every stretch of white space."""
    return re.sub(r"\s+", " ", text_of(as_user(school.ilse.user).get(f"/today/{query}")))


def test_days_of_practice_are_told_of_plans_that_the_instructor_may_read(school: School) -> None:
    """Two days of the instructor's own plan count; another instructor's plan tells nothing."""
    plan = make_assessment(school.noor, school.ilse, state="released", released_at=NOW)
    for days in (1, 1, 2):
        plan.ticks.get_or_create(
            item=0, on=NOW.date() - timedelta(days=days), defaults={"ticked_at": NOW}
        )
    start = NOW + timedelta(hours=3)
    make_booking(make_meeting(school.consultation, school.ilse, start), school.noor)
    assert "Practised 2 of the last 14 days." in today(school)
    plan.author = school.wren
    plan.save()
    assert "Practised" not in today(school)


def test_students_due_a_review_are_counted_among_what_waits(school: School) -> None:
    """A follow-up date has passed and nothing is booked; the count leads to the list."""
    assert "due a review" not in today(school)
    note = make_assessment(school.noor, school.ilse, state="released", released_at=NOW)
    note.follow_up_weeks, note.follow_up_on = 2, NOW.date() - timedelta(days=1)
    note.save()
    school.noor.regular_instructor = school.ilse
    school.noor.save()
    Booking.objects.filter(student=school.noor).delete()
    assert '<b>1</b><span><a href="/due-a-review/">Student due a review</a>' in today(school)


def test_a_goal_of_the_latest_note_that_is_due_on_the_day_is_told(school: School) -> None:
    """Not one that a later note has replaced, and not one that the instructor may not read."""
    make_booking(make_meeting(school.consultation, school.ilse, NOW), school.noor)
    told = "A goal is due on this day."
    note = make_assessment(
        school.noor, school.ilse, state="released", released_at=NOW, goal_on=NOW.date()
    )
    assert told in today(school)
    note.author = school.wren
    note.save()
    assert told not in today(school)
    note.author = school.ilse
    note.save()
    make_assessment(school.noor, school.ilse, state="released", released_at=NOW, goal="Another")
    assert told not in today(school)


def test_a_lesson_of_a_weekly_place_says_which_one_it_is(school: School) -> None:
    """The second of four, one of them on 9 March; one that was called off does not count."""
    place = weekly_place(school.ilse, school.noor)
    days = {-7: "CONFIRMED", 0: "CONFIRMED", 7: "CANCELLED", 14: "CONFIRMED"}
    for ahead, status in days.items():
        starts_at = NOW + timedelta(days=ahead, hours=2)
        lesson = make_meeting(
            place.offering, school.ilse, starts_at, weekly_place=place, status=status
        )
        if status == "CONFIRMED":
            make_booking(lesson, school.noor)
    assert "Weekly place, lesson 2 of 4." in today(school)


def test_each_lesson_says_what_was_marked_and_whether_it_is_wrapped_up(school: School) -> None:
    """A mark alone wraps up a private lesson; after a consultation a note is needed too."""
    consulted = taught(school.ilse, school.noor, school.consultation, NOW - timedelta(days=3))
    page = today(school, "?on=2027-02-26")
    assert "unit 2.</span>" in page and "Wrap up<" in page
    Mark.objects.create(booking=consulted, attendance="LATE", marked_at=NOW)
    page = today(school, "?on=2027-02-26")
    assert "unit 2. Late.</span>" in page and "Wrap up<" in page
    make_assessment(school.noor, school.ilse)
    page = today(school, "?on=2027-02-26")
    assert "Wrapped up<" in page and "Wrap up<" not in page
