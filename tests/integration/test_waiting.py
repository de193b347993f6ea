"""Group meetings: places, the waiting list, and the offer of a freed place to the first in line."""

from datetime import timedelta

import pytest

from bookings.domain.vocabulary import Ended, Standing
from bookings.models import Booking, Meeting, OutboxMessage, WaitingPlace
from bookings.operations import calling_off, meetings, offers, places, waiting
from tests import cast
from tests.cast import NOW, at
from tests.school.groups import LISTENER, Class, counted, refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def group() -> Class:
    return Class()


def test_places_fill_and_the_next_is_told_to_wait(group):
    """Two players fit; the third is refused and may wait."""
    a, b, c, _ = group.students
    group.do(places.book_place, a)
    group.do(places.book_place, b)
    refused("no-place", lambda: group.do(places.book_place, c))
    assert counted(group.meeting) == (2, 0)


def test_nobody_waits_while_a_place_is_free(group):
    """A free place is booked, not waited for."""
    refused("places-free", lambda: group.do(waiting.join_waiting_list, group.students[0]))


def test_a_freed_place_is_offered_to_the_first_in_line_in_the_same_transaction(group):
    """Order of joining decides (a university registrar's published rule); the offer says until when
    to answer.
    """
    held = group.full()
    group.do(places.leave_place, actor=group.admin, booking=held[0])
    offer = Booking.objects.get(standing=Standing.OFFERED)
    # 24 hours on is 04:00 in New York, inside their night, so the answer is due at 08:00 there.
    assert (offer.student, offer.answer_by) == (group.students[2], at("2027-03-02T13:00Z"))
    assert counted(group.meeting) == (2, 0)
    mail = OutboxMessage.objects.get(kind="offer")
    assert (mail.recipient, mail.calendar) == (group.students[2].user, "")


def test_an_accepted_offer_becomes_a_held_place_and_only_then_an_invitation(group):
    """The calendar part leaves when the place is theirs."""
    held = group.full()
    group.do(places.leave_place, actor=group.students[0].user, booking=held[0])
    offer = Booking.objects.get(standing=Standing.OFFERED)
    assert not OutboxMessage.objects.filter(
        kind="invitation", recipient=group.students[2].user
    ).exists()
    accepted = group.do(offers.accept_offer, actor=group.students[2].user, booking=offer)
    assert accepted.standing == Standing.HELD
    assert WaitingPlace.objects.get(student=group.students[2]).ended_why == Ended.PLACED
    assert (
        OutboxMessage.objects.filter(kind="invitation", recipient=group.students[2].user).count()
        == 1
    )
    assert counted(group.meeting) == (2, 0)


def test_a_declined_offer_goes_to_the_next(group):
    """Off the list, and the second in line is offered the place."""
    held = group.full()
    group.do(places.leave_place, actor=group.students[0].user, booking=held[0])
    offer = Booking.objects.get(standing=Standing.OFFERED)
    group.do(offers.decline_offer, actor=group.students[2].user, booking=offer)
    assert Booking.objects.get(standing=Standing.OFFERED).student == group.students[3]
    assert WaitingPlace.objects.get(student=group.students[2]).ended_why == Ended.DECLINED


def test_an_offer_not_answered_in_time_lapses_and_passes_on_once(group):
    """After answer_by a yes is refused; the lapse ends the offer and the next is asked."""
    held = group.full()
    group.do(places.leave_place, actor=group.students[0].user, booking=held[0])
    offer = Booking.objects.get(standing=Standing.OFFERED)
    late = offer.answer_by
    refused(
        "offer-ended",
        lambda: group.do(
            offers.accept_offer, actor=group.students[2].user, booking=offer, now=late
        ),
    )
    assert group.do(offers.lapse_offers, now=late) == 1
    assert group.do(offers.lapse_offers, now=late) == 0
    assert Booking.objects.get(standing=Standing.OFFERED).student == group.students[3]


def test_a_clash_is_solved_when_the_offer_is_accepted(group):
    """An offer holds the place, not their time: a lesson at that hour must move first."""
    held = group.full()
    group.do(places.leave_place, actor=group.students[0].user, booking=held[0])
    other = cast.make_instructor("Wren Halloway", "America/New_York")
    lesson = cast.make_meeting(cast.make_offering(), other, at("2027-03-14T17:30Z"))
    cast.make_booking(lesson, group.students[2])
    offer = Booking.objects.get(standing=Standing.OFFERED)
    refused(
        "own-clash",
        lambda: group.do(offers.accept_offer, actor=group.students[2].user, booking=offer),
    )


def test_accepting_a_player_place_ends_their_listener_place_and_keeps_their_rank_until_then(group):
    """Acceptance scenario 14: a listener place does not cost their rank on the players' list."""
    held = group.full()
    listening = group.do(places.book_place, group.students[2], place_kind=LISTENER)
    assert counted(group.meeting) == (2, 1)
    group.do(places.leave_place, actor=group.students[1].user, booking=held[1])
    offer = Booking.objects.get(standing=Standing.OFFERED)
    group.do(offers.accept_offer, actor=group.students[2].user, booking=offer)
    listening.refresh_from_db()
    assert (listening.standing, listening.ended_why) == (Standing.ENDED, Ended.MOVED)
    assert counted(group.meeting) == (2, 0)


def test_nobody_jumps_the_queue(group):
    """A place that is on offer or about to be offered is not for the taking."""
    held = group.full()
    group.do(places.leave_place, actor=group.students[0].user, booking=held[0])
    refused("no-place", lambda: group.do(places.book_place, cast.make_student("Ida Quince")))


def test_a_minor_whose_night_it_is_is_passed_over(group):
    """17:00 UTC is 04:00 in Sydney: Posy keeps their rank and the next is offered the place."""
    a, b, c, _ = group.students
    held = [group.do(places.book_place, a), group.do(places.book_place, b)]
    posy = cast.make_minor()
    WaitingPlace.objects.create(
        meeting=group.meeting, student=posy, joined_at=NOW - timedelta(days=1)
    )
    group.do(waiting.join_waiting_list, c)
    group.do(places.leave_place, actor=a.user, booking=held[0])
    assert Booking.objects.get(standing=Standing.OFFERED).student == c
    assert WaitingPlace.objects.get(student=posy).ended_at is None


def test_inside_four_hours_the_first_yes_has_it_and_all_who_wait_are_told(group):
    """No offer is made that late; whoever books first has the place."""
    held = group.full()
    soon = at("2027-03-14T14:00Z")
    group.do(places.leave_place, actor=group.students[0].user, booking=held[0], now=soon)
    assert not Booking.objects.filter(standing=Standing.OFFERED).exists()
    assert OutboxMessage.objects.filter(kind="place-free").count() == 2
    group.do(places.book_place, group.students[3], now=soon)
    assert WaitingPlace.objects.get(student=group.students[3]).ended_why == Ended.PLACED


def test_leaving_the_list_with_an_offer_declines_it(group):
    """The place goes on at once."""
    held = group.full()
    group.do(places.leave_place, actor=group.students[0].user, booking=held[0])
    group.do(waiting.leave_waiting_list, group.students[2])
    assert Booking.objects.get(standing=Standing.OFFERED).student == group.students[3]


def test_one_waiting_place_each(group):
    """Joining twice is refused."""
    group.full()
    refused("already-waiting", lambda: group.do(waiting.join_waiting_list, group.students[2]))


def test_moving_to_another_meeting_leaves_and_joins_or_changes_nothing(group):
    """Where the other meeting is full, they keep their place."""
    a, _, _, d = group.students
    other = group.make(at("2027-03-21T17:00Z"), places=1)
    booking = group.do(places.book_place, a)
    group.do(places.book_place, d, meeting=other)
    refused(
        "no-place",
        lambda: group.do(places.move_place, actor=a.user, booking=booking, meeting=other),
    )
    assert counted(group.meeting) == (1, 0)
    roomy = group.make(at("2027-03-28T17:00Z"))
    moved = group.do(places.move_place, actor=a.user, booking=booking, meeting=roomy)
    assert (moved.meeting, counted(group.meeting), counted(roomy)) == (roomy, (0, 0), (1, 0))


def test_places_are_not_lowered_below_those_taken_and_gained_places_go_to_the_list(group):
    """An admin lowers places only to those taken; a third place is offered to the first in line at
    once.
    """
    group.full()
    refused(
        "has-bookings",
        lambda: group.do(
            meetings.change_meeting, actor=group.admin, meeting=group.meeting, places=1
        ),
    )
    group.do(meetings.change_meeting, actor=group.admin, meeting=group.meeting, places=3)
    assert Booking.objects.get(standing=Standing.OFFERED).student == group.students[2]
    assert counted(group.meeting) == (3, 0)


def test_a_moved_meeting_moves_every_booking_with_it(group):
    """The copied period follows, and each family is told once with a higher SEQUENCE."""
    held = group.full()
    group.do(
        meetings.change_meeting,
        actor=group.admin,
        meeting=group.meeting,
        starts_at=at("2027-03-14T19:00Z"),
    )
    for booking in held:
        booking.refresh_from_db()
        assert booking.starts_at == at("2027-03-14T19:00Z")
    assert Meeting.objects.get(pk=group.meeting.pk).sequence == 1
    latest = OutboxMessage.objects.filter(
        kind="invitation", recipient=group.students[0].user
    ).order_by("-id")[0]
    assert "SEQUENCE:1" in latest.calendar


def test_a_called_off_meeting_tells_each_once_and_empties_the_list(group):
    """Bookings, offers and waiting places end as called off; the counters are zero."""
    held = group.full()
    group.do(places.leave_place, actor=group.students[0].user, booking=held[0])
    group.do(
        calling_off.call_off, actor=group.admin, meeting=group.meeting, why="The instructor is ill."
    )
    assert counted(group.meeting) == (0, 0)
    assert not WaitingPlace.objects.filter(ended_at__isnull=True).exists()
    assert (
        OutboxMessage.objects.filter(kind="cancellation", recipient=group.students[1].user).count()
        == 1
    )


def test_two_group_meetings_of_one_instructor_never_overlap(group):
    """Changeover included: 17:00 to 18:00 holds until 18:10."""
    refused("taken", lambda: group.make(at("2027-03-14T18:05Z")))
    assert group.make(at("2027-03-14T18:10Z")).pk
