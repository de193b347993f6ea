"""Today: the instructor's first page, and the day's briefs for the printer."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from bookings.models import AssessmentReading, Intake, Mark, MoveRequest
from tests.cast import (
    NOW,
    at,
    make_assessment,
    make_booking,
    make_instructor,
    make_meeting,
    make_minor,
    make_student,
    taught,
)
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import School, as_user, text_of
from tests.functional.pages.set_up import publish_a_term

pytestmark = pytest.mark.sql

MOST = 12


def today(school: School, query: str = "") -> str:
    """Ilse's page as it reads, with one space for every stretch of white space."""
    return re.sub(r"\s+", " ", text_of(as_user(school.ilse.user).get(f"/today/{query}")))


def test_the_next_lesson_stands_on_top_with_its_room(school: School, hands: Hands) -> None:
    """Eighteen minutes before: the name, the hour on both clocks, the room, what is new."""
    taught(school.ilse, school.noor, school.consultation, at("2027-02-12T17:30Z"))
    Intake.objects.create(
        booking=school.booking,
        questions=["Why does it fold?", "How fast?"],
        recordings=["https://r.example/1"],
        written_at=NOW,
    )
    hands.at = at("2027-03-12T17:12Z")
    page = today(school)
    assert "Noor Ashgrove, in 18 minutes" in page
    assert "12:30 in New York" in page
    assert 'class="go" href="https://rooms.rowanmere.example/ilse"' in page
    assert "“Why does it fold?”" in page
    assert "Two questions, one recording. Last seen four weeks ago." in page
    hands.at = at("2027-03-12T17:40Z")
    assert "Noor Ashgrove, now" in today(school)


def test_a_first_lesson_says_who_taught_before(school: School) -> None:
    """A meeting that the student missed is no lesson."""
    taught(school.wren, school.noor, school.consultation)
    missed = taught(school.ilse, school.noor, school.consultation, NOW - timedelta(days=3))
    Mark.objects.create(booking=missed, attendance="ABSENT_WITHOUT_NOTICE", marked_at=NOW)
    assert "First lesson with you; comes from Wren Halloway." in today(school, "?on=2027-03-12")


def test_other_families_surnames_stay_hidden(school: School) -> None:
    """A minor goes by the first name, on the block, in the list and under tomorrow."""
    make_booking(
        make_meeting(school.consultation, school.ilse, at("2027-03-11T17:30Z")), school.posy
    )
    for day in ("2027-03-11", "2027-03-10"):
        page = today(school, f"?on={day}")
        assert "Posy" in page
        assert "Lindqvist" not in page


def test_what_waits_is_counted_and_linked(school: School) -> None:
    """Lessons to wrap up, requests, drafts and clashes; nothing is said plainly."""
    assert "Nothing is waiting for you." in today(school)
    for days in (3, 4):
        taught(school.ilse, school.noor, school.consultation, NOW - timedelta(days=days))
    draft = make_assessment(school.noor, school.ilse)
    MoveRequest.objects.create(
        booking=school.booking,
        asked_by=school.noor.user,
        starts_at=NOW + timedelta(days=9),
        sequence=0,
        asked_at=NOW,
    )
    school.booking.meeting.is_flagged = True
    school.booking.meeting.save()
    page = today(school)
    assert (
        '<b>2</b><span><a href="/today/?on=2027-02-25">Lessons to wrap up</a>, '
        "the earliest on Thursday 25 February" in page
    )
    assert '<b>1</b><span><a href="/move-requests/">Request to move</a>' in page
    assert f'<a href="/assessments/{draft.pk}/write/">Assessment not released</a>' in page
    assert '<a href="/today/?on=2027-03-12">Meeting with a clash</a>' in page
    assert "Mark the register" in today(school, "?on=2027-02-25")
    assert "This clashes with something else" in today(school, "?on=2027-03-12")


def test_what_waits_for_a_colleague_is_not_shown(school: School) -> None:
    """Each instructor reads their own."""
    taught(school.wren, school.noor, school.consultation)
    make_assessment(school.noor, school.wren)
    assert "Nothing is waiting for you." in today(school)


def test_a_meeting_across_midnight_is_on_both_days(school: School) -> None:
    """Each day names the weekday of the hour that is not its own, and counts its own part."""
    meeting = make_meeting(school.group, school.ilse, at("2027-03-08T23:40Z"), title="Late airs")
    make_booking(meeting, school.noor)
    first, second = (today(school, f"?on=2027-03-0{day}") for day in (8, 9))
    assert "<b>23:40</b> to Tuesday 00:40" in first
    assert "One meeting, 20 minutes of teaching." in first
    assert "<b>Monday 23:40</b> to 00:40" in second
    assert "One meeting, 40 minutes of teaching." in second


@pytest.mark.parametrize(
    ("day", "told", "starts_at"),
    [
        ("2027-03-28", "this day has 23 hours", "2027-03-28T11:00Z"),
        ("2027-10-31", "this day has 25 hours", "2027-10-31T12:00Z"),
    ],
)
def test_a_day_on_which_the_clocks_change_says_so(
    school: School, day: str, told: str, starts_at: str
) -> None:
    """Dublin 2027: the last Sundays of March and October; the lesson is at noon of the new time."""
    make_booking(make_meeting(school.consultation, school.ilse, at(starts_at)), school.noor)
    page = today(school, f"?on={day}")
    assert told in page
    assert "<b>12:00</b> to 12:25" in page


@pytest.mark.parametrize(
    "on", ["yesterday", "2027-02-30", "1999-12-31", "2200-01-01", "2027-W09-9"]
)
def test_what_is_no_day_is_refused(school: School, on: str) -> None:
    """A link that names no day of the calendar is told so."""
    for page in ("/today/", "/today/briefs/"):
        assert as_user(school.ilse.user).get(page, {"on": on}).status_code == 400


@pytest.mark.parametrize("on", ["2000-01-01", "2199-12-31"])
def test_the_ends_of_the_calendar_have_a_page(school: School, on: str) -> None:
    """There is no link beyond them."""
    assert as_user(school.ilse.user).get("/today/", {"on": on}).status_code == 200


def test_an_instructor_who_is_an_admin_keeps_the_admin_s_links(school: School) -> None:
    """They begin at what needs them; Today, People and Terms are one click away."""
    school.ilse.user.is_staff = school.ilse.user.is_superuser = True
    school.ilse.user.save()
    publish_a_term()
    assert as_user(school.ilse.user).get("/").url == "/needs/"
    page = today(school)
    for link in ("/people/", "/terms/", "/move-requests/"):
        assert f'href="{link}"' in page


def fill_day(school: School, count: int) -> None:
    """So many consultations of an hour's distance on Tuesday 9 March, each with a released note."""
    for number in range(count):
        student = make_student(f"Ada{number} Birkwood")
        meeting = make_meeting(
            school.consultation, school.ilse, at("2027-03-09T09:00Z") + timedelta(hours=number)
        )
        note = make_assessment(
            student, school.wren, state="released", released_at=NOW, obstacle=f"Obstacle {number}"
        )
        booking = make_booking(meeting, student, assessment=note)
        Intake.objects.create(booking=booking, questions=[f"Question {number}"], written_at=NOW)


def test_a_day_of_eight_is_printed_from_one_page(school: School) -> None:
    """Eight briefs in the order of the day, twelve queries at most, each reading logged."""
    fill_day(school, 8)
    client = as_user(school.ilse.user)
    with CaptureQueriesContext(connection) as seen:
        page = text_of(client.get("/today/briefs/?on=2027-03-09"))
    statements = [row for row in seen if not row["sql"].startswith(("SAVEPOINT", "RELEASE"))]
    assert len(statements) <= MOST, [row["sql"][:100] for row in statements]
    assert page.count('<article class="brief">') == 8
    places = [page.index(f"{word} {number}") for number in range(8) for word in ("Question",)]
    assert places == sorted(places)
    assert all(f"Obstacle {number}" in page for number in range(8))
    assert AssessmentReading.objects.filter(relation="instructor").count() == 8


def test_a_group_of_twelve_has_a_brief_for_each_player(school: School) -> None:
    """Listeners have none; the page says how many of the twelve have written."""
    meeting = make_meeting(
        school.group, school.ilse, at("2027-03-09T16:00Z"), places=12, listener_places=2
    )
    players = [make_student(f"Bo{number} Carrow") for number in range(12)]
    bookings = [make_booking(meeting, student) for student in players]
    make_booking(meeting, school.noor, place_kind="listener")
    Intake.objects.create(booking=bookings[4], pieces="Study in G", written_at=NOW)
    page = text_of(as_user(school.ilse.user).get("/today/briefs/?on=2027-03-09"))
    assert page.count('<article class="brief">') == 12
    assert "Study in G" in page
    assert "Noor" not in page
    assert "1 of 12 has written before." in today(school, "?on=2027-03-09")


def test_the_day_s_briefs_hold_no_note_that_may_not_be_read(school: School) -> None:
    """A note released after the booking that travels with no booking of theirs is left out, and
    nothing is logged; an admin's reading needs a reason, which paper does not ask for.
    """
    note = make_assessment(
        school.noor, school.wren, state="released", released_at=NOW, obstacle="Unread"
    )
    for is_staff in (False, True):
        school.ilse.user.is_staff = school.ilse.user.is_superuser = is_staff
        school.ilse.user.save()
        page = text_of(as_user(school.ilse.user).get("/today/briefs/?on=2027-03-12"))
        assert "Noor Ashgrove" in page
        assert "Unread" not in page
    assert not note.readings.exists()


def test_private_remarks_are_not_printed(school: School) -> None:
    """Not even for their author."""
    note = make_assessment(school.noor, school.ilse, state="released", released_at=NOW)
    note.private_remarks = "canary-paper"
    note.save()
    page = text_of(as_user(school.ilse.user).get("/today/briefs/?on=2027-03-12"))
    assert "The study in G" in page
    assert "canary-paper" not in page


def test_another_instructor_s_day_is_empty(school: School) -> None:
    """Nobody opens a colleague's day."""
    other = make_instructor("Bram Tolliver")
    make_minor("Kit Reed")
    page = text_of(as_user(other.user).get("/today/?on=2027-03-12"))
    assert "Nothing to teach on this day." in page
    assert "Noor" not in page
