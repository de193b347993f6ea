"""A masterclass whose order of players ends after it: longer where that is free, else refused."""

from datetime import timedelta

import pytest

from bookings.door import write
from bookings.models import Booking, OutboxMessage
from bookings.operations.agendas import PlayerSaid
from bookings.operations.meetings import change_meeting
from bookings.queries.agendas import agenda_of
from bookings.queries.calendars import events_for
from tests import cast
from tests.cast import NOW
from tests.integration.nothing_written import refused
from tests.school.masterclasses import STARTS_AT, MasterclassSchool

pytestmark = pytest.mark.django_db
PLANNED = STARTS_AT + timedelta(minutes=90)
LONGER = STARTS_AT + timedelta(minutes=4 * 25 + 10)


@pytest.fixture
def school():
    return MasterclassSchool()


def publish(school):
    """Four turns of 25 minutes: 110 minutes with ten to close, in a meeting of 90."""
    return school.publish({place.pk: PlayerSaid(25, None) for place in school.places})


def allow(school):
    """The instructor's own yes to this start, whatever their hours and load say."""
    school.ilse.load_allowances.create(
        starts_at=STARTS_AT, allowed_by=school.ilse.user, allowed_at=NOW
    )


def test_the_meeting_ends_with_its_order_and_the_changeover_stays(school):
    """Source: TRADE.md 8 (16): the end is the start, the turns and ten minutes."""
    changeover = school.meeting.held_until - school.meeting.ends_at
    meeting = publish(school)
    meeting.refresh_from_db()
    assert (meeting.ends_at, meeting.minutes, meeting.sequence) == (LONGER, 110, 1)
    assert meeting.held_until == LONGER + changeover
    assert set(Booking.objects.values_list("ends_at", flat=True)) == {LONGER}
    assert agenda_of(meeting).ends_at == LONGER


def test_everybody_in_it_gets_one_email_with_the_new_end(school):
    """A player reads their turn in it; a listener and the instructor read of the change."""
    publish(school)
    sent = OutboxMessage.objects.exclude(kind__startswith="reminder")
    players = [place.student.user for place in school.places]
    for reader in [*players, school.tamsin.user, school.ilse.user]:
        (told,) = sent.filter(recipient=reader)
        assert told.method == "REQUEST"
        assert "T165000" in told.calendar
    noor = sent.get(recipient=school.noor.student.user)
    assert noor.title.startswith("You play third, about 10:50 (New York): ")
    assert "The meeting is longer now, so that everybody has their turn:" in noor.body
    assert "10:00\u201311:50, New York" in noor.body
    assert "has changed. It is now:" in sent.get(recipient=school.tamsin.user).body
    (event,) = events_for(school.tamsin.user, now=NOW)
    assert event.ends_at == LONGER


def test_publishing_it_again_changes_and_tells_nothing(school):
    """The meeting is that long already."""
    version = publish(school).version
    count = OutboxMessage.objects.count()
    assert publish(school).version == version
    assert OutboxMessage.objects.count() == count


def test_a_shorter_order_leaves_the_end_where_it_is(school):
    """What families were promised is not taken back."""
    publish(school)
    school.publish({place.pk: PlayerSaid(15, None) for place in school.places})
    school.meeting.refresh_from_db()
    assert school.meeting.ends_at == LONGER


def test_the_instructors_next_meeting_stands_in_the_way_by_name(school):
    """At the new end, within the changeover; once that is over, there is room."""
    changeover = school.meeting.held_until - PLANNED
    other = cast.make_meeting(school.masterclass, school.ilse, LONGER, title="Open hour", places=2)
    refusal = refused("taken", lambda: publish(school))
    assert "ends at 16:50 (Dublin)" in refusal.detail
    assert "Ilse Quarrow has another meeting at 16:50 (Dublin): Open hour" in refusal.detail
    assert agenda_of(school.meeting).turns == []
    other.starts_at += changeover
    other.save()
    allow(school)  # two meetings in a row
    assert publish(school).ends_at == LONGER


def test_a_students_next_lesson_stands_in_the_way_by_name(school):
    """Oona plays, and has a lesson with somebody else when the meeting was to end."""
    wren = cast.make_instructor("Wren Halloway")
    lesson = cast.make_meeting(cast.make_offering(), wren, PLANNED)
    cast.make_booking(lesson, school.oona.student)
    refusal = refused("own-clash", lambda: publish(school))
    assert "before that: Oona Brack." in refusal.detail


def test_the_end_of_the_instructors_hours_gives_way_to_their_yes_alone(school):
    """The order ends 20 minutes after the hours do."""
    school.ilse.week.windows.all().delete()
    cast.publish(school.ilse, "5 15:00-16:30")
    refusal = refused("instructor-may-allow", lambda: publish(school))
    assert refusal.data["rules"] == ["outside-hours"]
    allow(school)
    assert publish(school).ends_at == LONGER


def test_a_minors_night_stands_in_the_way(school):
    """In Sydney it is Sunday, 02:00: too early before and after, so nobody is asked to stay."""
    school.place(cast.make_minor(), place_kind="listener")
    refused("minor-hours", lambda: publish(school))


def test_a_longer_meeting_that_moves_keeps_its_length(school):
    """The order of players still fits into it."""
    publish(school)
    moved = STARTS_AT + timedelta(days=1)
    write(
        lambda: change_meeting(actor=school.dag, meeting=school.meeting, starts_at=moved, now=NOW),
        now=NOW,
    )
    school.meeting.refresh_from_db()
    assert school.meeting.ends_at - moved == timedelta(minutes=110)
