"""What the school books or moves by itself, and the family may decline."""

from datetime import timedelta

import pytest

from bookings.door import write
from bookings.models import OutboxMessage
from bookings.operations.booking import move_slot
from bookings.operations.declining import decline_booking
from tests import cast
from tests.cast import NOW, at
from tests.integration.nothing_written import refused, school

__all__ = ["school"]

pytestmark = pytest.mark.django_db

START = at("2027-03-12T17:30Z")


def decline(school, booking, now=NOW):
    return write(lambda: decline_booking(actor=school.noor.user, booking=booking, now=now), now=now)


def move(school, booking, actor, starts_at, now=NOW):
    return write(
        lambda: move_slot(actor=actor, booking=booking, starts_at=starts_at, now=now), now=now
    )


def test_what_an_instructor_books_may_be_declined_for_a_day(school):
    """The email says until when and has the link; declining ends the lesson without charge."""
    lesson = school.book(START, actor=school.ilse.user)
    assert lesson.decline_by == NOW + timedelta(hours=24)
    email = OutboxMessage.objects.get(recipient=school.noor.user, kind="invitation")
    assert f"/my-lessons/{lesson.pk}/decline/" in email.body
    assert "decline it free of charge until Tuesday 2 March, 04:00 (New York)" in email.body
    declined = decline(school, lesson)
    assert (declined.standing, declined.ended_why) == ("ENDED", "declined")
    assert (declined.meeting.status, declined.meeting.taken) == ("CANCELLED", 0)
    cancelled = OutboxMessage.objects.filter(method="CANCEL")
    assert {row.recipient for row in cancelled} == {school.noor.user, school.ilse.user}
    (told,) = cancelled.filter(recipient=school.ilse.user)
    assert "has declined the time" in told.body
    refused("already-ended", lambda: decline(school, lesson))


def test_a_lesson_that_begins_sooner_is_declined_until_it_begins(school):
    """The school books without lead time; the day to decline is then shorter."""
    soon = NOW + timedelta(hours=2, minutes=30)
    lesson = school.book(soon, actor=school.ilse.user)
    assert lesson.decline_by == soon
    refused("past", lambda: decline(school, lesson, now=soon))


def test_after_a_day_it_can_only_be_cancelled(school):
    """At the instant itself it is too late."""
    lesson = school.book(START, actor=school.ilse.user)
    refused("notice-passed", lambda: decline(school, lesson, now=NOW + timedelta(hours=24)))
    before = NOW + timedelta(hours=24) - timedelta(seconds=1)
    assert decline(school, lesson, now=before).ended_why == "declined"


def test_what_the_family_books_cannot_be_declined(school):
    """It can be cancelled."""
    lesson = school.book(START)
    refused("notice-passed", lambda: decline(school, lesson))


def test_a_familys_own_move_takes_the_right_to_decline(school):
    """They have chosen the time themselves by now."""
    lesson = school.book(START, actor=school.ilse.user)
    moved = move(school, lesson, school.noor.user, START + timedelta(days=1))
    assert moved.decline_by is None
    refused("notice-passed", lambda: decline(school, moved))


def test_notice_does_not_bind_a_move_by_the_school(school):
    """An hour before, the family can no longer move it; the instructor can, and it is declined."""
    lesson = school.book(START)
    now = START - timedelta(hours=1)
    to = START + timedelta(days=1)
    refused("notice-passed", lambda: move(school, lesson, school.noor.user, to, now=now))
    moved = move(school, lesson, school.ilse.user, to, now=now)
    assert moved.decline_by == now + timedelta(hours=24)
    assert decline(school, moved, now=now).ended_why == "declined"


def test_the_schools_booking_needs_no_allowance(school):
    """A student with two open consultations gets a third from the instructor or an admin."""
    for hours in (0, 1):
        school.book(START + timedelta(hours=hours))
    later = START + timedelta(hours=2)
    refused("allowance-used", lambda: school.book(later))
    assert school.book(later, actor=school.ilse.user).decline_by
    assert school.book(later + timedelta(hours=1), actor=cast.make_admin()).decline_by


def test_an_admin_books_for_their_own_child_as_the_family(school):
    """An admin who is the guardian is bound like any guardian."""
    dag = cast.make_admin()
    kit = cast.make_minor("Kit Emberley", "Europe/Dublin", guardian=dag)
    assert school.book(START, student=kit, actor=dag).decline_by is None
    refused("too-soon", lambda: school.book(NOW + timedelta(hours=1), student=kit, actor=dag))
