"""The order of players of a masterclass: worked out, published, old once the roster changes."""

from datetime import timedelta

import pytest

from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import AuditRow, Booking, OutboxMessage
from bookings.operations.agendas import PlayerSaid
from bookings.operations.meetings import change_meeting
from bookings.operations.places import leave_place
from bookings.queries.agendas import agenda_of
from tests import cast
from tests.cast import NOW
from tests.integration.nothing_written import refused
from tests.school.masterclasses import STARTS_AT, MasterclassSchool

pytestmark = pytest.mark.django_db


@pytest.fixture
def school():
    return MasterclassSchool()


def order(school):
    return [turn.booking.student.first_name for turn in agenda_of(school.meeting).turns]


def told(school, booking):
    """The one email to the player."""
    (message,) = OutboxMessage.objects.filter(recipient=booking.student.user)
    return message


def test_the_order_is_stored_with_the_bookings(school):
    """Levels 2, 5, 3, 7 at 15 minutes each. Source: TRADE.md 8 (16)."""
    school.publish()
    assert order(school) == ["Marlo", "Oona", "Noor", "Asha"]
    assert [place.turn for place in school.places] == [1, 3, 2, 4]
    assert {place.turn_minutes for place in school.places} == {15}
    assert agenda_of(school.meeting).ends_at == STARTS_AT + timedelta(minutes=60 + 10)


def test_who_must_leave_plays_first_and_it_is_shown_why(school):
    """Source: TRADE.md 8 (16)."""
    school.leaves(school.asha, 15)
    school.publish()
    first = agenda_of(school.meeting).turns[0]
    assert (first.booking, first.early) == (
        school.asha,
        "This turn is early because the player has to leave early.",
    )


def test_each_player_gets_one_email_on_their_own_clock(school):
    """Noor plays third, at 15:30 in Dublin; who listens gets none."""
    school.publish()
    message = told(school, school.noor)
    assert message.title.startswith("You play third, about 10:30 (New York): ")
    assert "The meeting ends about 11:10 (New York)." in message.body
    assert f"/meetings/{school.meeting.pk}/agenda/" in message.body
    assert not OutboxMessage.objects.filter(recipient=school.tamsin.user).exists()
    assert OutboxMessage.objects.count() == 4


def test_a_guardian_reads_about_both_children_in_one_email(school):
    """Each child by first name."""
    orsola = cast.make_user("Orsola Thorne")
    for name in ("Kit", "Lark"):
        child = cast.make_minor(f"{name} Thorne", "Europe/Dublin", guardian=orsola, level=1)
        school.place(child, booked_at=NOW + timedelta(hours=1))
    ten = PlayerSaid(10, None)
    school.publish({place.pk: ten for place in Booking.objects.filter(place_kind="player")})
    (message,) = OutboxMessage.objects.filter(recipient=orsola)
    assert "Kit plays first, about 15:00 (Dublin).\nLark plays second, about 15:10" in message.body


def test_publishing_the_same_order_again_tells_nobody(school):
    """No email, no version, no audit row."""
    version = school.publish().version
    assert school.publish().version == version
    assert OutboxMessage.objects.count() == 4
    assert AuditRow.objects.filter(verb="published agenda").count() == 1


def test_nobody_opens_twice_in_a_row(school):
    """Marlo opened the offering's last masterclass, so the next lowest level opens this one."""
    before = school.meeting_at(STARTS_AT - timedelta(days=28))
    school.place(school.marlo.student, before, turn=1, turn_minutes=15)
    school.publish()
    assert order(school) == ["Oona", "Marlo", "Noor", "Asha"]


def test_the_minutes_of_a_player_can_be_said(school):
    """Twenty for the highest level: the order ends five minutes later."""
    school.publish({school.asha.pk: PlayerSaid(20, None)})
    assert agenda_of(school.meeting).ends_at == STARTS_AT + timedelta(minutes=65 + 10)


def test_a_player_who_leaves_the_meeting_makes_the_order_old(school):
    """The others keep their order until it is published anew."""
    school.publish()
    assert not agenda_of(school.meeting).is_old
    write(
        lambda: leave_place(actor=school.dag, booking=school.oona, reason="Asked", now=NOW),
        now=NOW,
    )
    found = agenda_of(school.meeting)
    assert (found.is_old, order(school)) == (True, ["Marlo", "Noor", "Asha"])
    school.publish()
    assert not agenda_of(school.meeting).is_old


def test_a_new_player_makes_the_order_old(school):
    """They are named as without a turn."""
    school.publish()
    late = school.place(cast.make_student("Wilf Marsh"))
    found = agenda_of(school.meeting)
    assert (found.is_old, found.without_turn) == (True, [late])


def test_a_listener_changes_nothing(school):
    """Only players are in the order."""
    school.publish()
    school.place(cast.make_student("Wilf Marsh"), place_kind="listener")
    assert not agenda_of(school.meeting).is_old


def test_a_player_who_has_to_leave_before_their_turn_makes_it_old(school):
    """Said after the order was published."""
    school.publish()
    school.leaves(school.asha, 50)
    assert agenda_of(school.meeting).is_old


def test_who_cannot_be_kept_is_named_and_nothing_is_published(school):
    """Two players have to be done after one turn: one of them cannot be."""
    school.leaves(school.noor, 15)
    school.leaves(school.asha, 15)
    refusal = refused("no-order", school.publish)
    assert refusal.detail.startswith("Cannot leave in time: Asha Merrow.")
    assert order(school) == []


def test_what_has_no_order_is_refused(school):
    """Another kind of meeting, one that has begun, one that is called off, a stranger's booking."""
    refused("not-found", lambda: school.publish({school.listening.pk: PlayerSaid(15, None)}))
    refused("past", lambda: school.publish(now=STARTS_AT))
    refused("not-allowed", lambda: school.publish(actor=school.ilse.user))
    refused("stale", lambda: school.publish(version=school.meeting.version + 1))
    school.meeting.status = "CANCELLED"
    school.meeting.save()
    refused("already-ended", school.publish)
    school.meeting.status = "CONFIRMED"
    school.meeting.save()
    school.masterclass.kind = "group-meeting"
    school.masterclass.save()
    refused("wrong-kind", school.publish)


@pytest.mark.parametrize("minutes", [0, -5, 90, 200])
def test_the_time_to_leave_lies_within_the_meeting(school, minutes):
    """At the start, before it, at the end, after it."""
    refused("invalid", lambda: school.leaves(school.noor, minutes))


def test_a_listener_says_nothing_of_leaving(school):
    """They have no turn."""
    with pytest.raises(Refused) as caught:
        school.leaves(school.listening, 30)
    assert caught.value.code == "wrong-kind"


def test_saying_when_one_leaves_changes_the_meeting_for_whoever_read_it(school):
    """An admin who read the order before is told that it has changed."""
    version = school.meeting.version
    school.leaves(school.noor, 30)
    refused("stale", lambda: school.publish(version=version))


def test_a_meeting_that_moves_forgets_when_players_must_leave(school):
    """What they said was about the old time; the order itself stays."""
    school.leaves(school.noor, 45)
    school.publish()
    moved = STARTS_AT + timedelta(days=1)
    write(
        lambda: change_meeting(actor=school.dag, meeting=school.meeting, starts_at=moved, now=NOW),
        now=NOW,
    )
    school.meeting.refresh_from_db()
    found = agenda_of(school.meeting)
    assert {turn.booking.leaves_by for turn in found.turns} == {None}
    assert found.turns[0].starts_at == moved
