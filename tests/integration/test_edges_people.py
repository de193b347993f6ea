"""The edges of who is who: letters, consent, closed accounts, instructors who learn and guardians
who teach.
"""

from datetime import timedelta

import pytest

from accounts.models import Student, User
from bookings import access, outbox
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Kind
from bookings.models import OutboxMessage
from bookings.operations import booking as lessons
from bookings.operations import resending
from bookings.queries.calendars import events_for
from bookings.queries.slots import slots_for
from bookings.queries.teaching import instructors_for
from tests import cast
from tests.cast import NOW
from tests.school.coming_in import come_in
from tests.school.groups import refused
from tests.school.two_instructors import THEN, School

pytestmark = pytest.mark.django_db


@pytest.fixture
def school() -> School:
    return School()


def child() -> Student:
    return Student.objects.create(own_name="Kit Sandoval", level=2, own_time_zone="Europe/Dublin")


def test_a_student_has_one_account_whichever_letter_is_opened_last(school):
    """A letter to a mistyped address takes nothing over: neither after the right one was used nor
    before.
    """
    kit = child()
    mistyped = school.invite("tpyo@rowanmere.example", student=kit)
    right = school.invite("kit@rowanmere.example", student=kit)
    refused("not-found", lambda: come_in(mistyped))
    owner = come_in(right)
    kit.refresh_from_db()
    assert kit.user == owner


def test_an_address_that_is_a_students_already_becomes_no_second_one(school):
    """A refusal that says what to do, not a broken guard."""
    noor = cast.make_student(email="noor@rowanmere.example")
    kit = child()
    refused("already-done", lambda: come_in(school.invite("noor@rowanmere.example", student=kit)))
    kit.refresh_from_db()
    assert (kit.user, Student.objects.get(user=noor.user)) == (None, noor)


def test_a_letter_finds_the_account_however_its_address_is_spelt(school):
    """The office may have changed an address by hand; two accounts for one address cannot be."""
    known = cast.make_user("Ida Quince")
    User.objects.filter(pk=known.pk).update(email="Ida@Rowanmere.example")
    assert come_in(school.invite("ida@rowanmere.example", as_instructor=True)) == known


def test_nobody_is_booked_as_a_student_while_they_teach(school):
    """Ilse learns at their own school: their lessons given stand in the way of those taken, and the
    other way round.
    """
    learner = Student.objects.create(user=school.ilse.user, level=8)
    school.book(cast.make_student(), school.ilse)
    refused("own-clash", lambda: school.book(learner, school.wren))
    later = THEN + timedelta(hours=2)
    school.book(learner, school.wren, later)
    refused("taken", lambda: school.book(cast.make_student("Marlo Vance"), school.ilse, later))


def test_nobody_is_their_own_student(school):
    """Their own hours are not offered to them."""
    learner = Student.objects.create(user=school.ilse.user, level=8)
    refused("not-taught", lambda: school.book(learner, school.ilse))
    found = slots_for(
        offering=school.consultation,
        student=learner,
        since=NOW,
        until=NOW + timedelta(days=3),
        now=NOW,
    )
    assert {slot.instructor_id for slot in found.slots} == {school.wren.pk}


def test_an_instructor_whose_account_is_closed_is_not_booked(school):
    """They would hear of nothing."""
    User.objects.filter(pk=school.ilse.user_id).update(is_active=False)
    assert instructors_for(school.consultation, 4) == [school.wren]
    refused("not-taught", lambda: school.book(cast.make_student(), school.ilse))


def test_who_no_longer_teaches_sees_no_student(school):
    """Their account may stay, as a guardian's does; bookings, rosters, briefs and the feed of what
    they taught do not.
    """
    booking = school.book(cast.make_student(), school.ilse)
    group = cast.make_meeting(
        cast.make_offering("Studio class", Kind.GROUP_MEETING, 60),
        school.ilse,
        THEN + timedelta(days=1),
    )
    user = school.ilse.user
    assert access.access_brief(user, booking.pk, now=NOW) == booking
    school.ilse.is_active = False
    school.ilse.save()
    for look, pk in (
        (access.access_booking, booking.pk),
        (access.access_brief, booking.pk),
        (access.access_meeting, booking.meeting_id),
        (access.access_taught_meeting, group.pk),
    ):
        refused("not-found", lambda look=look, pk=pk: look(user, pk, now=NOW))
    assert events_for(user, now=NOW) == []


def test_every_person_has_one_sequence_in_a_change(school, monkeypatch):
    """PostgreSQL refuses to write one row twice in a statement, so no change may name a recipient
    twice for one meeting.
    """
    from bookings.operations import booking as module

    kept = []
    enqueue = outbox.enqueue
    monkeypatch.setattr(
        module.outbox,
        "enqueue",
        lambda rows, *, now: (kept.extend(rows := list(rows)), enqueue(rows, now=now)),
    )
    kit = cast.make_minor("Kit Quarrow", "Europe/Dublin", guardian=school.ilse.user)
    school.book(kit, school.ilse, actor=school.ilse.user)
    recipients = [row.recipient_id for row in kept if row.sequence is not None]
    assert len(recipients) == len(set(recipients))


def test_an_invitation_that_a_newer_message_has_overtaken_is_not_sent_again(school):
    """Sent again, it would put the join address of a meeting that they have left into their
    mailbox.
    """
    noor = cast.make_student()
    booking = school.book(noor, school.ilse)
    invitation = OutboxMessage.objects.get(kind="invitation", recipient=noor.user)
    outbox.drain(lambda: NOW)
    lessons.cancel_slot(actor=school.dag, booking=booking, now=NOW)
    refused(
        "already-ended", lambda: resending.send_again(actor=school.dag, message=invitation, now=NOW)
    )


def test_an_instructor_reads_the_note_that_came_with_the_booking_and_no_older_one(school):
    """A substitute who reads every note of a student is what families are angry about."""
    noor = cast.make_student()
    first, latest = (
        cast.make_assessment(
            noor, school.wren, state="released", released_at=NOW + timedelta(days=day)
        )
        for day in (-9, -1)
    )
    school.book(noor, school.ilse)
    assert access.reading_relation(school.ilse.user, latest, now=NOW) == "instructor"
    assert access.reading_relation(school.ilse.user, first, now=NOW) is None


def test_a_move_decided_on_an_old_state_does_not_take_a_lesson_back_to_its_former_instructor(
    school,
):
    """Two moves at once: the second, which names no instructor, saw the lesson with Ilse while the
    first gave it to Wren.
    """
    booking = school.book(cast.make_student(), school.ilse)
    seen = (
        type(booking)
        .objects.select_related("meeting__instructor__user", "student__user")
        .get(pk=booking.pk)
    )
    lessons.move_slot(
        actor=school.dag, booking=booking, starts_at=THEN, instructor=school.wren, now=NOW
    )
    with pytest.raises(Refused) as caught:
        lessons.move_slot(
            actor=school.dag, booking=seen, starts_at=THEN + timedelta(hours=1), now=NOW
        )
    assert caught.value.code == "conflict"
