"""The school chooses the players: families apply, an admin chooses, nobody is offered a place."""

from datetime import timedelta

import pytest

from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Ended
from bookings.door import write
from bookings.models import Booking, OutboxMessage, WaitingPlace
from bookings.operations import meetings, places, waiting
from bookings.operations.choosing import choose_player, close_choice
from bookings.operations.queues import offer_free_places
from bookings.queries.waiting import line
from tests.cast import NOW, at
from tests.school.groups import LISTENER, PLAYER, Class, refused

READ = "https://recordings.rowanmere.example/7"


@pytest.fixture
def school(db: None) -> Class:
    """Two player places, to be given by choice; three students have applied, in order."""
    school = Class()
    school.meeting = school.make(at("2027-03-13T12:00Z"), players_are_chosen=True)
    for number, student in enumerate(school.students[:3]):
        apply(school, student, now=NOW + timedelta(minutes=number))
    return school


def apply(school: Class, student, **more) -> WaitingPlace:
    return school.do(waiting.join_waiting_list, student, **more)


def choose(school: Class, student, actor=None, **more) -> Booking:
    act = {"actor": actor or school.admin, "student": student, "meeting": school.meeting, **more}
    return write(lambda: choose_player(**act, now=NOW), now=NOW)


def close(school: Class, **more):
    return school.do(close_choice, **{"actor": school.admin, "meeting": school.meeting, **more})


def queue(school: Class) -> list[str]:
    return [row.student.first_name for row in line(school.meeting, PLAYER)]


def test_families_apply_and_do_not_book(school: Class) -> None:
    """Free places change nothing; source: a festival's regulation, players are chosen, listeners
    open (TRADE.md 1.6).
    """
    last = school.students[3]
    refused("players-chosen", lambda: school.do(places.book_place, last))
    assert apply(school, last).student == last
    assert school.do(places.book_place, last, place_kind=LISTENER).place_kind == "listener"


def test_nobody_is_offered_a_place_by_the_passing_of_time_or_of_people(school: Class) -> None:
    """A player leaves, places are added, the sweep runs: all who applied keep their order."""
    played = choose(school, school.students[1])
    school.do(places.leave_place, actor=school.admin, booking=played)
    school.do(meetings.change_meeting, actor=school.admin, meeting=school.meeting, places=5)
    school.do(offer_free_places)
    assert not Booking.objects.offered().exists()
    assert queue(school) == ["Noor", "Juno"]


def test_an_admin_chooses_out_of_order_and_the_rest_keep_theirs(school: Class) -> None:
    """The chosen one is booked and invited; what they wrote is in their intake."""
    last = school.students[3]
    apply(school, last, piece="Willow air", recording=READ, now=NOW + timedelta(minutes=9))
    booked = choose(school, last)
    assert (booked.student, booked.standing, booked.place_kind) == (last, "HELD", "player")
    assert (booked.intake.pieces, booked.intake.recordings) == ("Willow air", [READ])
    assert WaitingPlace.objects.get(student=last).ended_why == Ended.PLACED
    assert queue(school) == ["Noor", "Marlo", "Juno"]
    assert OutboxMessage.objects.filter(kind="invitation", recipient=last.user).count() == 1


def test_only_an_admin_chooses_and_only_who_has_applied(school: Class) -> None:
    """Not the instructor; nobody twice; and nobody beyond the places."""
    a, b, c, d = school.students
    with pytest.raises(Refused) as caught:
        choose(school, a, actor=school.ilse.user)
    assert caught.value.code == "not-allowed"
    refused("not-waiting", lambda: choose(school, d))
    choose(school, a)
    refused("not-waiting", lambda: choose(school, a))
    choose(school, b)
    refused("no-place", lambda: choose(school, c))


def test_closing_tells_each_once_and_ends_the_applications(school: Class) -> None:
    """One email for each who is not chosen, none for the chosen; a second closing is refused."""
    a, b, c, d = school.students
    choose(school, b)
    before = OutboxMessage.objects.count()
    closed = close(school)
    assert closed.choice_closed_at == NOW
    new = OutboxMessage.objects.order_by("pk")[before:]
    assert {row.recipient for row in new} == {a.user, c.user}
    assert {row.title for row in new} == {"The players have been chosen: Ornaments with I. Quarrow"}
    assert {row.ended_why for row in WaitingPlace.objects.filter(student__in=[a, c])} == {
        Ended.NOT_CHOSEN
    }
    refused("already-done", lambda: close(school))
    refused("players-chosen", lambda: apply(school, d))
    refused("already-done", lambda: choose(school, a))
    assert school.do(places.book_place, a, place_kind=LISTENER).standing == "HELD"


def test_a_choice_is_bound_to_what_was_read(school: Class) -> None:
    """Somebody applies meanwhile: the admin reads the applications again before closing."""
    school.meeting.refresh_from_db()
    version = school.meeting.version
    apply(school, school.students[3])
    refused("stale", lambda: close(school, version=version))
    refused("stale", lambda: choose(school, school.students[0], version=version))


def test_where_families_book_there_is_nothing_to_choose(school: Class) -> None:
    """A meeting in order of joining; and an application text is not kept there."""
    other = school.make(at("2027-03-20T12:00Z"), places=1)
    a, b, *_ = school.students
    school.do(places.book_place, a, meeting=other)
    assert apply(school, b, meeting=other, piece="Willow air").piece == ""
    refused("wrong-kind", lambda: close(school, meeting=other))


def test_a_school_that_stops_choosing_offers_in_order(school: Class) -> None:
    """The applications are the waiting list then: the first two are offered the two places."""
    act = {"actor": school.admin, "meeting": school.meeting}
    school.do(meetings.change_meeting, **act, players_are_chosen=False)
    offered = Booking.objects.offered().order_by("pk")
    assert [row.student.first_name for row in offered] == ["Noor", "Marlo"]
