"""The edges of places and waiting lists: who holds what when several things meet."""

from datetime import timedelta

import pytest

from bookings.domain.vocabulary import Ended, Standing
from bookings.models import AuditRow, Booking, OutboxMessage, WaitingPlace
from bookings.operations import booking as lessons
from bookings.operations import meetings, offers, places, waiting
from tests import cast
from tests.cast import NOW, at
from tests.school.groups import LISTENER, PLAYER, Class, counted, refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def group() -> Class:
    return Class()


def test_a_listener_place_freed_by_an_acceptance_is_offered_to_the_first_who_waits_to_listen(group):
    """Whoever becomes a player frees their chair, and it goes on in the same transaction."""
    held = group.full()
    _, _, third, fourth = group.students
    group.do(places.book_place, third, place_kind=LISTENER)
    group.do(waiting.join_waiting_list, fourth, place_kind=LISTENER)
    group.do(places.leave_place, actor=group.admin, booking=held[0])
    group.do(
        offers.accept_offer,
        actor=third.user,
        booking=Booking.objects.get(standing=Standing.OFFERED),
    )
    offered = Booking.objects.get(standing=Standing.OFFERED)
    assert (offered.student, offered.place_kind) == (fourth, LISTENER)
    assert counted(group.meeting) == (2, 1)


def test_a_player_does_not_wait_to_listen(group):
    """Accepting a player place ends their wait for a listener place too, offered or not."""
    held = group.full()
    third = group.students[2]
    listening = group.do(places.book_place, cast.make_student("Ida Quince"), place_kind=LISTENER)
    group.do(waiting.join_waiting_list, third, place_kind=LISTENER)
    group.do(places.leave_place, actor=group.admin, booking=listening)
    group.do(places.leave_place, actor=group.admin, booking=held[0])
    group.do(
        offers.accept_offer,
        actor=third.user,
        booking=Booking.objects.get(standing=Standing.OFFERED, place_kind=PLAYER),
    )
    assert not WaitingPlace.objects.filter(student=third, ended_at__isnull=True).exists()
    assert counted(group.meeting) == (2, 0)


def test_one_person_does_not_take_a_player_and_a_listener_place(group):
    """Booking a player place ends their listener place as accepting one does, and a player books no
    listener place.
    """
    a, b, *_ = group.students
    group.do(places.book_place, a, place_kind=LISTENER)
    group.do(places.book_place, a)
    assert counted(group.meeting) == (1, 0)
    group.do(places.book_place, b)
    refused("already-booked", lambda: group.do(places.book_place, b, place_kind=LISTENER))
    refused("already-booked", lambda: group.do(waiting.join_waiting_list, b, place_kind=LISTENER))


def test_a_place_that_the_first_in_line_may_not_take_does_not_stay_empty(group):
    """A minor without consent keeps their rank; whoever joins behind them is offered the free place
    at once.
    """
    a, b, c, _ = group.students
    held = [group.do(places.book_place, a), group.do(places.book_place, b)]
    kit = cast.make_minor("Kit Sandoval", "Europe/Dublin", consent=False)
    WaitingPlace.objects.create(meeting=group.meeting, student=kit, joined_at=NOW)
    group.do(places.leave_place, actor=a.user, booking=held[0])
    refused("no-place", lambda: group.do(places.book_place, c))
    group.do(waiting.join_waiting_list, c)
    assert Booking.objects.get(standing=Standing.OFFERED).student == c
    assert WaitingPlace.objects.get(student=kit).ended_at is None


def test_inside_four_hours_a_free_place_is_taken_and_not_waited_for(group):
    """The first yes has it then, so there is nothing to wait for, and nobody is mailed again."""
    held = group.full()
    soon = at("2027-03-14T14:00Z")
    group.do(places.leave_place, actor=group.admin, booking=held[0], now=soon)
    told = OutboxMessage.objects.count()
    refused(
        "places-free",
        lambda: group.do(waiting.join_waiting_list, cast.make_student("Ida Quince"), now=soon),
    )
    assert OutboxMessage.objects.count() == told


def test_nobody_is_offered_a_place_who_cannot_hear_of_it(group):
    """Somebody whose account is closed is passed over, so no place is kept a day for nobody."""
    held = group.full()
    third = group.students[2]
    third.user.is_active = False
    third.user.save()
    group.do(places.leave_place, actor=group.admin, booking=held[0])
    assert Booking.objects.get(standing=Standing.OFFERED).student == group.students[3]


def test_an_offer_removed_by_the_office_says_so_and_keeps_the_reason(group):
    """An admin's removal is a removal, not the student's no."""
    held = group.full()
    group.do(places.leave_place, actor=group.admin, booking=held[0])
    offer = Booking.objects.get(standing=Standing.OFFERED)
    group.do(places.leave_place, actor=group.admin, booking=offer, reason="The level has changed.")
    offer.refresh_from_db()
    assert offer.ended_why == Ended.REMOVED
    assert AuditRow.objects.filter(
        verb="removed", thing_id=offer.pk, why__text="The level has changed."
    ).exists()


def test_an_offer_follows_its_meeting_to_another_time(group):
    """Whoever is asked hears of the new time, and is never asked to answer after the start."""
    held = group.full()
    group.do(places.leave_place, actor=group.admin, booking=held[0])
    offer = Booking.objects.get(standing=Standing.OFFERED)
    group.do(
        meetings.change_meeting,
        actor=group.admin,
        meeting=group.meeting,
        starts_at=at("2027-03-02T10:00Z"),
    )
    offer.refresh_from_db()
    assert offer.starts_at == at("2027-03-02T10:00Z")
    assert offer.answer_by <= offer.starts_at
    assert (
        "2 March 2027"
        in OutboxMessage.objects.filter(kind="offer", recipient=offer.student.user)
        .latest("id")
        .body
    )


def test_a_group_meeting_is_not_moved_into_a_minors_night(group):
    """08:00 to 21:00 on a minor's clock holds for moved meetings as for booked ones."""
    evening = group.make(at("2027-03-15T08:00Z"))
    posy = cast.make_minor()
    group.do(places.book_place, posy, meeting=evening, actor=posy.guardians.get())
    refused(
        "minor-hours",
        lambda: group.do(
            meetings.change_meeting,
            actor=group.admin,
            meeting=evening,
            starts_at=at("2027-03-15T17:00Z"),
        ),
    )
    evening.refresh_from_db()
    assert evening.starts_at == at("2027-03-15T08:00Z")


def test_an_offer_is_no_longer_good_once_consent_is_gone(group):
    """Withdrawn between offer and answer: the yes is refused and the place stays kept until the
    offer ends.
    """
    a = group.students[0]
    evening = group.make(at("2027-03-15T08:00Z"), places=1)
    held = group.do(places.book_place, a, meeting=evening)
    posy = cast.make_minor()
    hedda = posy.guardians.get()
    group.do(waiting.join_waiting_list, posy, meeting=evening, actor=hedda)
    group.do(places.leave_place, actor=a.user, booking=held)
    hedda.is_active = False
    hedda.save()
    offer = Booking.objects.get(standing=Standing.OFFERED)
    refused(
        "consent-missing", lambda: group.do(offers.accept_offer, actor=group.admin, booking=offer)
    )
    assert counted(evening) == (1, 0)


def test_a_lesson_is_cancelled_and_a_place_in_a_group_is_left_and_never_the_other_way_round(
    group,
):
    """Each operation refuses the other kind of booking, whichever door it came through."""
    a, b, *_ = group.students
    in_group = group.do(places.book_place, a)
    refused("wrong-kind", lambda: group.do(lessons.cancel_slot, actor=a.user, booking=in_group))
    wren = cast.make_instructor("Wren Halloway", "America/New_York")
    alone = cast.make_booking(
        cast.make_meeting(cast.make_offering(), wren, at("2027-03-16T17:00Z")), b
    )
    refused(
        "wrong-kind",
        lambda: group.do(places.leave_place, actor=group.admin, booking=alone, reason="Tidy."),
    )
    refused(
        "wrong-kind",
        lambda: group.do(places.move_place, actor=b.user, booking=alone, meeting=alone.meeting),
    )
    assert counted(group.meeting) == (1, 0)


def test_moving_a_place_to_where_it_is_keeps_it(group):
    """A move to the same meeting would give the place to the next in line, or lose the rank."""
    held = group.full()
    refused(
        "already-booked",
        lambda: group.do(
            places.move_place, actor=group.admin, booking=held[0], meeting=group.meeting
        ),
    )


def test_leaving_a_list_twice_or_an_old_offer_is_refused(group):
    """What has ended stays ended: no second place is given on."""
    held = group.full()
    group.do(places.leave_place, actor=group.admin, booking=held[0])
    offer = Booking.objects.get(standing=Standing.OFFERED)
    group.do(offers.decline_offer, actor=group.admin, booking=offer)
    refused("offer-ended", lambda: group.do(offers.decline_offer, actor=group.admin, booking=offer))
    refused("not-waiting", lambda: group.do(waiting.leave_waiting_list, group.students[2]))
    refused(
        "offer-ended",
        lambda: group.do(
            offers.accept_offer, actor=group.admin, booking=offer, now=NOW + timedelta(minutes=1)
        ),
    )
    assert counted(group.meeting) == (2, 0)
