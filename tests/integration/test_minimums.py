"""The minimum to run: a meeting is uncertain until it is decided, once, for all at once."""

from datetime import timedelta

import pytest

from bookings import tasks
from bookings.domain.minimums import Minimum
from bookings.domain.vocabulary import Ended
from bookings.models import AuditRow, Booking, OutboxMessage
from bookings.operations import meetings, minimums, places, reinstating
from bookings.queries.calendars import events_for
from tests import cast
from tests.cast import NOW, at
from tests.integration.nothing_written import refused
from tests.school.minimums import DECIDE_BY, UncertainClass
from tests.threads import together

pytestmark = pytest.mark.django_db


@pytest.fixture
def group() -> UncertainClass:
    return UncertainClass()


def sent(group, student=0):
    """The emails to a student since the invitation, without reminders."""
    rows = OutboxMessage.objects.filter(recipient=group.students[student].user)
    return list(rows.exclude(kind__startswith="reminder").order_by("pk"))[1:]


def status(student, *, now=NOW):
    """What the student's feed says of the one meeting in it."""
    (event,) = events_for(cast.user_of(student), now=now)
    return event.status


def test_a_family_learns_at_joining_that_it_is_not_certain(group):
    """In words on its own clock, and as TENTATIVE (RFC 5545 section 3.8.1.11)."""
    group.book(1)
    (invitation,) = OutboxMessage.objects.filter(
        recipient=group.students[0].user, kind="invitation"
    )
    assert (
        "This meeting is not certain yet: it runs with at least 3 players. It is decided by "
        "Friday 12 March, 13:00 (New York), and everybody with a place gets an email."
    ) in invitation.body
    assert "STATUS:TENTATIVE" in invitation.calendar
    assert status(group.students[0]) == "TENTATIVE"


def test_a_reminder_after_the_decision_says_nothing_of_it(group):
    """The one of the last hour; the day before comes after the decision too."""
    group.book(1)
    reminders = OutboxMessage.objects.filter(kind__startswith="reminder")
    assert reminders.count() == 2
    assert not any("not certain" in row.body for row in reminders)


def test_with_too_few_players_it_is_called_off_for_all_at_once(group):
    """Source: TRADE.md 8 (17): minimum 3 and 2 enrolled; one message each, and the calendars show
    it called off, not vanished.
    """
    group.book(2)
    assert group.decide().is_cancelled
    for number in (0, 1):
        (told,) = sent(group, number)
        assert told.kind == "cancellation"
        assert "Why: Too few players had a place by the time to decide." in told.body
        assert "You will not be charged" in told.body
        assert "STATUS:CANCELLED" in told.calendar
        assert status(group.students[number], now=DECIDE_BY) == "CANCELLED"
    assert OutboxMessage.objects.filter(recipient=group.ilse.user, kind="cancellation").count() == 1
    assert {row.ended_why for row in Booking.objects.all()} == {Ended.CALLED_OFF}


def test_with_enough_players_everybody_gets_one_updated_invitation(group):
    """The same event with a higher SEQUENCE, CONFIRMED, and the reply stays."""
    group.book(3)
    assert group.decide().status == "CONFIRMED"
    for number in (0, 1, 2):
        (told,) = sent(group, number)
        assert told.title.startswith("It runs: ")
        assert "Your meeting is certain now and takes place: " in told.body
        assert "not certain yet" not in told.body
        assert "STATUS:CONFIRMED" in told.calendar
        assert f"SEQUENCE:{group.meeting.sequence}" in told.calendar
        assert "PARTSTAT=ACCEPTED" in told.calendar.replace("\r\n ", "")
    assert status(group.students[0]) == "CONFIRMED"


def test_nothing_is_decided_before_its_time(group):
    """Three of three are in: they may still leave."""
    group.book(3)
    assert group.decide(DECIDE_BY - timedelta(seconds=1)).status == "TENTATIVE"


def test_an_offer_and_a_listener_are_no_players(group):
    """A third player is only offered a place, and a fourth student listens."""
    group.book(2)
    waits = group.meeting.waiting.create(student=group.students[2], joined_at=NOW)
    offer = {"standing": "OFFERED", "answer_by": at("2027-03-13T12:00Z")}
    cast.make_booking(group.meeting, group.students[2], waiting_place=waits, **offer)
    group.do(places.book_place, group.students[3], place_kind="listener")
    assert group.decide().is_cancelled


def test_who_leaves_after_the_decision_changes_nothing(group):
    """Two of three leave; it runs."""
    held = group.book(3)
    group.decide()
    later = DECIDE_BY + timedelta(hours=1)
    for booking in held[:2]:
        group.do(places.leave_place, actor=group.admin, booking=booking, now=later)
    assert group.decide(later).status == "CONFIRMED"


def test_a_late_decision_is_the_same(group):
    """Nothing ran for an hour: one has left since, another has booked since."""
    held = group.book(3)
    later = DECIDE_BY + timedelta(minutes=30)
    group.do(places.leave_place, actor=group.admin, booking=held[0], now=later)
    assert group.decide(DECIDE_BY + timedelta(hours=1)).status == "CONFIRMED"


def test_who_books_after_the_time_to_decide_does_not_save_it(group):
    """The third player came half an hour too late."""
    group.book(2)
    group.do(places.book_place, group.students[2], now=DECIDE_BY + timedelta(minutes=30))
    assert group.decide(DECIDE_BY + timedelta(hours=1)).is_cancelled


def test_a_meeting_that_has_begun_undecided_has_run(group):
    """Nobody was told otherwise, so nobody is told now."""
    group.book(1)
    assert group.decide(group.meeting.starts_at).status == "CONFIRMED"
    assert sent(group) == []


@pytest.mark.parametrize("count", [2, 3])
def test_deciding_twice_tells_once(group, count, monkeypatch):
    """The task runs twice."""
    group.book(count)
    monkeypatch.setattr("bookings.clock.now", lambda: DECIDE_BY)
    tasks.enqueue_due()
    tasks.enqueue_due()
    assert len(sent(group)) == 1
    assert AuditRow.objects.filter(verb__in=["called off", "decided to run"]).count() == 1


def test_an_admin_says_that_it_runs(group):
    """With one player, at once; the time to decide then decides nothing."""
    group.book(1)
    group.do(minimums.say_it_runs, actor=group.admin, meeting=group.meeting)
    group.meeting.refresh_from_db()
    assert (group.meeting.status, len(sent(group))) == ("CONFIRMED", 1)
    assert group.decide().status == "CONFIRMED"
    assert len(sent(group)) == 1
    again = {"actor": group.admin, "meeting": group.meeting}
    refused("already-done", lambda: group.do(minimums.say_it_runs, **again))


def test_only_an_admin_says_so_and_only_in_time(group):
    """Not its instructor, not once it has begun, not by an old page, not once it is called off."""
    act, meeting = minimums.say_it_runs, group.meeting
    admins = {"actor": group.admin, "meeting": meeting}
    refused("not-allowed", lambda: group.do(act, actor=group.ilse.user, meeting=meeting))
    refused("past", lambda: group.do(act, now=meeting.starts_at, **admins))
    refused("stale", lambda: group.do(act, version=meeting.version + 1, **admins))
    group.decide()
    refused("already-ended", lambda: group.do(act, **admins))


def test_reinstating_makes_it_certain(group):
    """Who reinstates it says that it takes place."""
    group.book(2)
    group.decide()
    later = DECIDE_BY + timedelta(hours=1)
    act = {"actor": group.admin, "meeting": group.meeting, "now": later}
    group.do(reinstating.reinstate_meeting, **act)
    assert group.decide(later).status == "CONFIRMED"


def test_a_minimum_is_refused_where_it_cannot_be(group):
    """Decided already, above the places, for a one-on-one, or for what was booked as certain."""

    def set_to(meeting, players=2, decide_by=DECIDE_BY):
        wanted = Minimum(players, decide_by)
        group.do(minimums.set_minimum, actor=group.admin, meeting=meeting, minimum=wanted)

    refused("past", lambda: set_to(group.meeting, decide_by=NOW))
    refused("invalid", lambda: set_to(group.meeting, 5))
    certain = group.make(at("2027-03-21T17:00Z"))
    refused("invalid", lambda: set_to(certain, decide_by=certain.starts_at))
    group.do(places.book_place, group.students[0], meeting=certain)
    refused("has-bookings", lambda: set_to(certain))
    lesson = cast.make_meeting(cast.make_offering(), group.ilse, at("2027-03-22T17:00Z"))
    refused("wrong-kind", lambda: set_to(lesson))
    group.do(minimums.say_it_runs, actor=group.admin, meeting=group.meeting)
    refused("already-done", lambda: set_to(group.meeting))
    group.decide(DECIDE_BY)
    later = group.make(at("2027-03-28T17:00Z"))
    later.status = "CANCELLED"
    later.save()
    refused("already-ended", lambda: set_to(later))


def test_another_minimum_is_told_once_and_decides(group):
    """Two players will do, a day earlier; the same again tells nobody."""
    group.book(2)
    earlier = DECIDE_BY - timedelta(days=1)
    for _ in range(2):
        act = {"actor": group.admin, "meeting": group.meeting, "minimum": Minimum(2, earlier)}
        group.do(minimums.set_minimum, **act)
    (told,) = sent(group)
    assert "it runs with at least 2 players" in told.body
    assert group.decide(earlier).status == "CONFIRMED"


def test_a_change_keeps_the_minimum_possible(group):
    """Fewer places than the minimum, or a start before the decision, is refused until decided."""

    def change(**wanted):
        group.do(meetings.change_meeting, actor=group.admin, meeting=group.meeting, **wanted)

    refused("invalid", lambda: change(places=2))
    refused("invalid", lambda: change(starts_at=at("2027-03-12T17:00Z")))
    group.do(minimums.say_it_runs, actor=group.admin, meeting=group.meeting)
    change(places=2)
    change(starts_at=at("2027-03-12T17:00Z"))
    group.meeting.refresh_from_db()
    assert (group.meeting.places, group.meeting.minimum) == (2, 3)


@pytest.mark.django_db(transaction=True)
def test_two_workers_decide_once():
    """At one moment, each in a transaction of its own."""
    group = UncertainClass()
    group.book(2)
    assert together(group.decide, group.decide) == []
    assert group.decide().is_cancelled
    assert [len(sent(group, number)) for number in (0, 1)] == [1, 1]
