"""Reminders of an offer: at half of its life and at its last quarter, by day, and never once there
is nothing to answer.
"""

from datetime import timedelta

import pytest

from bookings.domain.vocabulary import Standing
from bookings.models import AuditRow, Booking, OutboxMessage, WaitingPlace
from bookings.operations import calling_off, meetings, offers, people, places, queues, waiting
from tests import cast
from tests.cast import NOW, at
from tests.school.groups import PLAYER, Class, counted, refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def group() -> Class:
    return Class()


def offered(group, now):
    """The first in line, in New York, is offered a place at `now`."""
    held = group.full()
    group.do(places.leave_place, actor=group.admin, booking=held[0], now=now)
    return Booking.objects.get(standing=Standing.OFFERED)


def waiting_for(offer):
    rows = OutboxMessage.objects.filter(
        kind="offer-reminder", state="due", recipient=offer.student.user
    )
    return list(rows.order_by("due_at").values_list("due_at", flat=True))


EVENING = at("2027-03-10T17:15Z")  # 12:15 in New York; the offer lives until 12:15 the next day


def test_an_offer_is_remembered_at_half_and_at_its_last_quarter_by_day(group):
    """Half of 24 hours from 12:15 is 00:15, so the first comes at 08:00; the last quarter falls at
    06:15, and both are one then.
    """
    offer = offered(group, EVENING)
    assert offer.answer_by == at("2027-03-11T17:15Z")
    assert waiting_for(offer) == [at("2027-03-11T13:00Z")]


def test_both_reminders_leave_where_both_fall_by_day(group):
    """Offered at 20:00 in New York: half at 08:00, last quarter at 14:00 the next day (a
    registrar's 12 h and 6 h before the end).
    """
    assert waiting_for(offered(group, at("2027-03-10T01:00Z"))) == [
        at("2027-03-10T13:00Z"),
        at("2027-03-10T19:00Z"),
    ]


@pytest.mark.parametrize("answer", ["accept", "decline", "leave", "remove", "call off"])
def test_no_reminder_after_the_answer(group, answer):
    """Whatever ends an offer withdraws what would remind of it."""
    offer = offered(group, at("2027-03-10T01:00Z"))
    later = at("2027-03-10T01:05Z")
    student = offer.student
    match answer:
        case "accept":
            group.do(offers.accept_offer, actor=student.user, booking=offer, now=later)
        case "decline":
            group.do(offers.decline_offer, actor=student.user, booking=offer, now=later)
        case "leave":
            group.do(waiting.leave_waiting_list, student, now=later)
        case "remove":
            group.do(
                places.leave_place,
                actor=group.admin,
                booking=offer,
                reason="The level.",
                now=later,
            )
        case "call off":
            group.do(
                calling_off.call_off,
                actor=group.admin,
                meeting=group.meeting,
                why="Ill.",
                now=later,
            )
    assert waiting_for(offer) == []


def test_a_moved_meeting_reminds_of_the_offer_as_it_now_stands(group):
    """The reminders written for the old time are withdrawn and new ones name the new one."""
    offer = offered(group, at("2027-03-10T01:00Z"))
    group.do(
        meetings.change_meeting,
        actor=group.admin,
        meeting=group.meeting,
        starts_at=at("2027-03-15T17:00Z"),
        now=at("2027-03-10T02:00Z"),
    )
    bodies = OutboxMessage.objects.filter(kind="offer-reminder", state="due").values_list(
        "body", flat=True
    )
    assert len(bodies) == 2
    assert all("15 March" in body for body in bodies)
    assert waiting_for(offer) == [at("2027-03-10T13:00Z"), at("2027-03-10T19:00Z")]


def test_first_yes_depends_on_those_who_wait_and_not_on_who_asks(group):
    """The start is 06:00 in New York, whose evening has passed; a Dubliner behind them in line may
    take what all were told is free.
    """
    early = group.make(at("2027-03-03T11:00Z"), places=1, listener_places=0)
    a, b = group.students[:2]
    niamh = cast.make_student("Niamh Corrib", "Europe/Dublin")
    held = group.do(places.book_place, a, meeting=early)
    group.do(waiting.join_waiting_list, b, meeting=early)
    group.do(waiting.join_waiting_list, niamh, meeting=early, now=NOW + timedelta(minutes=1))
    night = at("2027-03-03T03:30Z")  # 22:30 in New York; half the time left ends at 02:15 there
    group.do(places.leave_place, actor=group.admin, booking=held, now=night)
    assert OutboxMessage.objects.filter(kind="place-free").count() == 2
    taken = group.do(places.book_place, niamh, meeting=early, now=night)
    assert (taken.standing, counted(early)) == (Standing.HELD, (1, 0))


def test_somebody_who_cannot_be_asked_in_turn_does_not_open_the_queue_to_a_stranger(group):
    """One with an evening behind them does not pass a queue whose people could still be asked in
    turn.
    """
    early = group.make(at("2027-03-03T11:00Z"), places=1, listener_places=0)
    kit = cast.make_minor("Kit Sandoval", "Asia/Kathmandu", consent=False)
    WaitingPlace.objects.create(meeting=early, student=kit, joined_at=NOW)
    refused(
        "no-place",
        lambda: group.do(
            places.book_place, group.students[0], meeting=early, now=at("2027-03-03T03:30Z")
        ),
    )


def test_a_place_that_stood_free_is_offered_when_consent_comes(group):
    """The first in line had no consent on file; once it is given the next round of the due table
    offers them the place.
    """
    early = group.make(at("2027-03-12T11:00Z"), places=1, listener_places=0)
    kit = cast.make_minor("Kit Sandoval", "Europe/Dublin", consent=False)
    WaitingPlace.objects.create(meeting=early, student=kit, joined_at=NOW)
    group.do(queues.offer_free_places)
    assert not Booking.objects.filter(student=kit).exists()
    kit.guardianships.update(consent_at=NOW, consent_wording="2026-11")
    group.do(queues.offer_free_places)
    group.do(queues.offer_free_places)
    assert Booking.objects.get(student=kit).standing == Standing.OFFERED
    assert OutboxMessage.objects.filter(kind="offer").count() == 1


def test_an_admins_exception_needs_a_reason_is_audited_and_costs_nobody_their_rank(group):
    """A free place that others wait for: refused to an admin as to anybody, placed only as an
    exception that says why.
    """
    early = group.make(at("2027-03-12T11:00Z"), places=1, listener_places=0)
    kit = cast.make_minor("Kit Sandoval", "Europe/Dublin", consent=False)
    behind = WaitingPlace.objects.create(meeting=early, student=kit, joined_at=NOW)
    a, b = group.students[:2]
    add = {"meeting": early, "actor": group.admin}
    refused("no-place", lambda: group.do(places.book_place, a, reason="By telephone.", **add))
    refused("invalid", lambda: group.do(places.book_place, a, ahead_of_queue=True, **add))
    refused(
        "invalid",
        lambda: group.do(
            places.book_place, a, meeting=early, ahead_of_queue=True, reason="I want to."
        ),
    )
    group.do(places.book_place, a, ahead_of_queue=True, reason="The exam is on Monday.", **add)
    assert AuditRow.objects.get(verb="booked ahead of the queue").reason == "The exam is on Monday."
    behind.refresh_from_db()
    assert (behind.ended_at, behind.joined_at) == (None, NOW)
    refused(
        "no-place",
        lambda: group.do(places.book_place, b, ahead_of_queue=True, reason="That exam too.", **add),
    )
    assert counted(early) == (1, 0)


def test_reminders_follow_their_reader_to_another_clock(group):
    """Noor moves from New York to Tokyo: what was written ahead is told anew, at waking hours there
    and in its words; and back.
    """
    noor = group.students[0]
    group.do(places.book_place, noor)

    def ahead():
        rows = OutboxMessage.objects.filter(
            recipient=noor.user, kind__startswith="reminder", state="due"
        ).order_by("due_at")
        return [(row.kind, row.due_at, row.state_key) for row in rows]

    before = ahead()
    # 17:00 UTC on 14 March: 02:00 in Tokyo, where an hour before is night too and the morning comes
    # too late.
    assert [at_ for _, at_, _ in before] == [at("2027-03-13T17:00Z"), at("2027-03-14T16:00Z")]
    group.do(people.change_me, actor=noor.user, time_zone="Asia/Tokyo")
    moved = ahead()
    assert [(kind, at_) for kind, at_, _ in moved] == [("reminder-24h", at("2027-03-13T23:00Z"))]
    assert "Tokyo" in OutboxMessage.objects.get(kind="reminder-24h").body
    assert "New York" not in OutboxMessage.objects.get(kind="reminder-24h").body
    group.do(people.change_me, actor=noor.user, time_zone="America/New_York")
    assert ahead() == before


def test_an_offers_reminders_follow_their_reader_too(group):
    """Reminders that would now come at night wait for one morning; a change of name alone touches
    nothing.
    """
    offer = offered(group, at("2027-03-10T01:00Z"))
    group.do(
        people.change_me,
        actor=offer.student.user,
        time_zone="Australia/Sydney",
        now=at("2027-03-10T01:30Z"),
    )
    # 13:00 UTC is midnight in Sydney and 19:00 is 06:00: both wait for 08:00 there.
    assert waiting_for(offer) == [at("2027-03-10T21:00Z")]
    kept = OutboxMessage.objects.get(kind="offer-reminder", state="due").pk
    group.do(
        people.change_me, actor=offer.student.user, name="Juno P.", now=at("2027-03-10T01:31Z")
    )
    assert OutboxMessage.objects.get(kind="offer-reminder", state="due").pk == kept
    assert offer.place_kind == PLAYER
