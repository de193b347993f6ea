"""What an admin does to a waiting list: add last, hold the next place, remove; never reorder."""

from datetime import timedelta

import pytest

from bookings.domain.vocabulary import Ended, Standing
from bookings.models import AuditRow, Booking, OutboxMessage, WaitingPlace
from bookings.operations import places, waiting
from bookings.operations import waiting_exceptions as acts
from bookings.queries.waiting import ranked, waiting_in
from tests import cast
from tests.cast import NOW, at
from tests.integration.nothing_written import refused
from tests.school.groups import LISTENER, Class

pytestmark = pytest.mark.django_db
WHY = "The guardian asked by telephone."
LATER = NOW + timedelta(hours=1)


@pytest.fixture
def group() -> Class:
    """Noor and Marlo hold the two places; Juno waits, then Otis."""
    group = Class()
    group.held = group.full()
    group.wilf = cast.make_student("Wilf Marsh")
    return group


def act(group, verb, student, **more):
    more = {"actor": group.admin, "reason": WHY, "now": LATER, **more}
    return group.do(verb, student, **more)


def ranks(group):
    rows = ranked(waiting_in([group.meeting]))
    return [(row.student.first_name, row.rank) for row in rows]


def offered():
    return [row.student.first_name for row in Booking.objects.filter(standing=Standing.OFFERED)]


def free_a_place(group, number=0):
    booking = group.held[number]
    group.do(places.leave_place, actor=group.admin, booking=booking, now=LATER)


def test_a_student_is_added_last_and_the_family_is_told(group):
    """With the reason in the record and in no email."""
    added = act(group, acts.add_to_waiting_list, group.wilf)
    assert ranks(group) == [("Juno", 1), ("Otis", 2), ("Wilf", 3)]
    (told,) = OutboxMessage.objects.filter(recipient=group.wilf.user)
    assert "The school has put you on the waiting list: Ornaments with I. Quarrow." in told.body
    assert "Your position is third." in told.body
    assert WHY not in told.body
    row = AuditRow.objects.get(verb="joined waiting list", thing_id=added.pk)
    assert (row.reason, row.actor) == (WHY, group.admin)


def test_a_held_place_is_offered_ahead_and_the_others_keep_their_rank(group):
    """Wilf is third and is offered the next free place; the one after that goes to the first."""
    act(group, acts.add_to_waiting_list, group.wilf)
    act(group, acts.hold_next_place, group.wilf)
    assert ranks(group) == [("Juno", 1), ("Otis", 2), ("Wilf", 3)]
    assert [row.student for row in WaitingPlace.objects.filter(is_next=True)] == [group.wilf]
    free_a_place(group)
    assert offered() == ["Wilf"]
    assert ranks(group) == [("Juno", 1), ("Otis", 2)]
    assert AuditRow.objects.filter(verb="offered ahead of the queue").count() == 1
    free_a_place(group, 1)
    assert sorted(offered()) == ["Juno", "Wilf"]


def test_holding_for_a_student_who_does_not_wait_puts_them_on_the_list(group):
    """Last, and told once."""
    act(group, acts.hold_next_place, group.wilf)
    assert ranks(group)[-1] == ("Wilf", 3)
    assert OutboxMessage.objects.filter(recipient=group.wilf.user).count() == 1
    verbs = AuditRow.objects.filter(why__text=WHY).values_list("verb", flat=True)
    assert sorted(verbs) == ["held next place", "joined waiting list"]


def test_the_next_place_is_held_for_one_student_at_a_time(group):
    """Until it is let go of, and then the first in line is the first again."""
    act(group, acts.hold_next_place, group.students[3])
    refused("already-done", lambda: act(group, acts.hold_next_place, group.wilf))
    refused("already-done", lambda: act(group, acts.let_next_place_go, group.students[2]))
    act(group, acts.let_next_place_go, group.students[3])
    refused("already-done", lambda: act(group, acts.let_next_place_go, group.students[3]))
    free_a_place(group)
    assert offered() == ["Juno"]


def test_a_student_who_may_not_take_the_held_place_does_not_keep_it_empty(group):
    """17:00 UTC is 04:00 in Sydney: it goes to the first in line, and the hold stays."""
    posy = cast.make_minor()
    row = group.meeting.waiting.create(student=posy, joined_at=NOW + timedelta(hours=2))
    row.is_next = True
    row.save()
    free_a_place(group)
    row.refresh_from_db()
    assert (offered(), row.is_next) == (["Juno"], True)


def test_a_held_place_declined_goes_to_the_first_in_line(group):
    """The exception was for one offer."""
    act(group, acts.hold_next_place, group.wilf)
    free_a_place(group)
    group.do(waiting.leave_waiting_list, group.wilf, now=LATER)
    assert offered() == ["Juno"]


def test_no_player_place_is_held_where_the_school_chooses(group):
    """It would be offered to nobody; a listener place is held as ever."""
    group.meeting.players_are_chosen = True
    group.meeting.save()
    refused("players-chosen", lambda: act(group, acts.hold_next_place, group.students[2]))
    assert not WaitingPlace.objects.filter(is_next=True).exists()


def test_players_and_listeners_have_a_hold_each(group):
    """Two queues of one meeting."""
    group.do(places.book_place, cast.make_student("Ida Quince"), place_kind=LISTENER)
    act(group, acts.hold_next_place, group.wilf)
    act(group, acts.hold_next_place, group.students[3], place_kind=LISTENER)
    assert WaitingPlace.objects.filter(is_next=True).count() == 2


def test_a_student_is_removed_and_the_family_is_told(group):
    """Whoever stands behind moves up; with an offer the place goes on."""
    act(group, acts.remove_from_waiting_list, group.students[2])
    assert ranks(group) == [("Otis", 1)]
    ended = WaitingPlace.objects.get(student=group.students[2])
    assert ended.ended_why == Ended.REMOVED
    told = OutboxMessage.objects.get(recipient=group.students[2].user)
    assert "The school has taken you off the waiting list: Ornaments" in told.body
    assert WHY not in told.body
    free_a_place(group)
    act(group, acts.remove_from_waiting_list, group.students[3])
    assert offered() == []
    assert Booking.objects.get(student=group.students[3]).ended_why == Ended.REMOVED


@pytest.mark.parametrize(
    "verb",
    [
        acts.add_to_waiting_list,
        acts.hold_next_place,
        acts.let_next_place_go,
        acts.remove_from_waiting_list,
    ],
)
def test_only_an_admin_does_so_and_says_why(group, verb):
    """Neither its instructor nor a family; no empty reason."""
    refused("not-allowed", lambda: act(group, verb, group.wilf, actor=group.ilse.user))
    refused("not-allowed", lambda: act(group, verb, group.wilf, actor=group.wilf.user))
    refused("invalid", lambda: act(group, verb, group.wilf, reason=" "))


def test_what_the_list_refuses_is_refused(group):
    """Twice on the list, not on it, an old page, an offer already made, places that are free."""
    juno = group.students[2]
    refused("already-waiting", lambda: act(group, acts.add_to_waiting_list, juno))
    refused("not-waiting", lambda: act(group, acts.remove_from_waiting_list, group.wilf))
    for verb in (acts.hold_next_place, acts.remove_from_waiting_list, acts.let_next_place_go):
        refused("stale", lambda verb=verb: act(group, verb, juno, meeting_version=99))
    free_a_place(group)
    refused("already-done", lambda: act(group, acts.hold_next_place, juno))
    empty = group.make(at("2027-03-21T17:00Z"))
    refused("places-free", lambda: act(group, acts.hold_next_place, juno, meeting=empty))
    refused("places-free", lambda: act(group, acts.add_to_waiting_list, juno, meeting=empty))
