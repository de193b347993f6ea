"""Around the wrap-up page: who is sent there, groups, and a session that ends meanwhile."""

import pytest
from django.test import Client

from accounts.sessions import end_sessions_and_tokens
from bookings.domain.vocabulary import Attendance
from bookings.models import Assessment, Booking, Mark
from tests.cast import PASSWORD, at, make_assessment, make_booking, make_meeting
from tests.functional.pages.conftest import Hands
from tests.functional.pages.school import School, as_user, make_school, text_of
from tests.functional.pages.wrapping_up import START, just_over


@pytest.fixture
def school(db: None) -> School:
    return make_school(PASSWORD)


@pytest.fixture
def lesson(school: School, hands: Hands) -> Booking:
    return just_over(school, hands)


def test_today_leads_to_it_until_register_and_note_are_there(
    school: School, lesson: Booking
) -> None:
    """A mark alone is not enough after a consultation, unless the student did not come."""
    ilse = as_user(school.ilse.user)
    page = text_of(ilse.get("/today/"))
    assert f'href="/wrap-up/{lesson.pk}/"' in page
    waits = "Lesson to wrap up"
    assert waits in page
    Mark.objects.create(booking=lesson, attendance=Attendance.PRESENT, marked_at=START)
    assert waits in text_of(ilse.get("/today/"))
    Mark.objects.update(attendance=Attendance.ABSENT_WITH_NOTICE)
    assert waits not in text_of(ilse.get("/today/"))
    Mark.objects.update(attendance=Attendance.LATE)
    make_assessment(school.noor, school.ilse, written_at=START, released_at=START, state="released")
    assert waits not in text_of(ilse.get("/today/"))


def test_the_brief_and_the_roster_lead_to_it(school: School, lesson: Booking) -> None:
    """Once the lesson has begun."""
    ilse, link = as_user(school.ilse.user), f'href="/wrap-up/{lesson.pk}/"'
    assert link in text_of(ilse.get(f"/brief/{lesson.pk}/"))
    assert link in text_of(ilse.get(f"/meetings/{lesson.meeting_id}/"))
    assert "/wrap-up/" not in text_of(ilse.get(f"/brief/{school.booking.pk}/"))


def test_a_member_of_a_group_gets_a_short_note(school: School, lesson: Booking) -> None:
    """The group's own next meeting is planned elsewhere: no date is asked for."""
    group = make_meeting(school.group, school.ilse, at("2027-03-01T13:00Z"), places=3)
    member = make_booking(group, school.marlo)
    ilse, where = as_user(school.ilse.user), f"/wrap-up/{member.pk}/"
    page = text_of(ilse.get(where))
    assert 'name="form" value="lesson-note"' in page
    assert "The next date" not in page
    said = {"attendance": "PRESENT", "form": "lesson-note", "level": 4, "unit": 2, "read": ""}
    asked = ilse.post(where, {**said, "heard": "Airs by ear", "then": "release"})
    shown = text_of(ilse.get(asked.url))
    note = Assessment.objects.get()
    ilse.post(asked.url.partition("?")[0], {"read": note.written_at.isoformat()})
    note.refresh_from_db()
    assert (note.state, "Airs by ear" in shown) == ("released", True)


def test_what_was_typed_survives_the_session(school: School, lesson: Booking) -> None:
    """After signing in the form is there again, bands and all, and is not saved by itself."""
    user, where, client = school.ilse.user, f"/wrap-up/{lesson.pk}/", Client()
    said = {"login": user.email, "password": PASSWORD, "next": where}
    client.post("/accounts/login/", said)
    end_sessions_and_tokens(user)
    typed = {"attendance": "LATE", "band_tone": "3", "goal": "Ten placed chords", "then": "auto"}
    led = client.post(where, typed, headers={"Referer": f"http://testserver{where}"})
    assert led.url == f"/accounts/login/?next={where}"
    client.post("/accounts/login/", said)
    page = text_of(client.get(where))
    assert "Ten placed chords</textarea>" in page
    assert 'name="attendance" value="LATE" checked' in page
    assert "It is not saved yet" in page
    assert not Assessment.objects.exists()
