"""Hours that an instructor cannot teach, with a group meeting or proposed times in them."""

from datetime import timedelta

import pytest

from bookings.domain.clearing import Decision
from bookings.domain.vocabulary import Kind, PlaceKind
from bookings.door import write
from bookings.models import Booking, WaitingPlace
from bookings.operations.meetings import create_meeting
from bookings.operations.places import book_place, leave_place
from bookings.operations.proposed_times import propose_times
from bookings.operations.waiting import join_waiting_list
from tests import cast
from tests.cast import NOW
from tests.integration.cleared import CALL_OFF, COVER, MOVE, PROPOSE, clear, emails
from tests.integration.nothing_written import refused
from tests.school.covering import DAY, CoveringSchool

pytestmark = pytest.mark.django_db


@pytest.fixture
def school():
    return CoveringSchool()


def in_group(school):
    """A group of two player places that day at 16:00: Posy has one, Noor is offered the other, and
    Kit waits.
    """
    offering = cast.make_offering("Studio class", Kind.GROUP_MEETING, 60)
    cast.teaches(school.ilse, offering)
    group = write(
        lambda: create_meeting(
            actor=school.admin,
            offering=offering,
            instructor=school.ilse,
            starts_at=DAY + timedelta(hours=16),
            title="Ornaments",
            places=2,
            now=NOW,
        ),
        now=NOW,
    )
    marlo = cast.make_student("Marlo Vance")
    for act, student in (
        (book_place, school.posy),
        (book_place, marlo),
        (join_waiting_list, school.noor),
        (join_waiting_list, school.kit),
    ):
        actor = student.user or school.hedda
        place = {"student": student, "meeting": group, "place_kind": PlaceKind.PLAYER}
        write(lambda act=act, actor=actor, place=place: act(actor=actor, now=NOW, **place), now=NOW)
    leaving = Booking.objects.get(student=marlo)
    write(lambda: leave_place(actor=marlo.user, booking=leaving, now=NOW), now=NOW)
    return group


def test_a_group_is_told_once_and_its_offers_and_waiting_places_end(school):
    """A family with a booked child and a waiting one reads one email, and so does who is offered
    a place.
    """
    group = in_group(school)
    assert Booking.objects.get(student=school.noor).standing == "OFFERED"
    clear(school, Decision(group.pk, CALL_OFF))
    (email,) = emails(school.hedda)
    assert "Posy’s and Kit’s meeting is called off" in email.body
    assert email.method == "CANCEL"
    (offered,) = emails(school.noor.user)
    assert "meeting is called off" in offered.body
    assert not Booking.objects.live().exists()
    assert not WaitingPlace.objects.waiting().exists()


def test_a_group_can_only_be_called_off(school):
    """Nobody covers or moves it here."""
    group = in_group(school)
    for remedy in (COVER, MOVE, PROPOSE):
        decision = Decision(group.pk, remedy, school.wren.pk)
        refused("wrong-kind", lambda decision=decision: clear(school, decision))


def test_times_proposed_in_the_stretch_are_taken_back_in_the_same_email(school):
    """Ilse holds two times for Kit that day, and Posy has a lesson: one email says both."""
    lesson = school.book(school.posy, 13)
    write(
        lambda: propose_times(
            actor=school.ilse.user,
            student=school.kit,
            offering=school.offering,
            instructor=school.ilse,
            starts=[DAY + timedelta(hours=15), DAY + timedelta(hours=16)],
            now=NOW,
        ),
        now=NOW,
    )
    clear(school, lesson)
    told = [one for one in emails(school.hedda) if not one.method]
    assert [one.title for one in told] == ["Called off: 1 lesson, from Fri 12 March 13:00, Dublin"]
    assert "are no longer available" in told[0].body
    assert not Booking.objects.live().exists()
