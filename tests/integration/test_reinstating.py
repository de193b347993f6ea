"""A meeting that was called off takes place after all, for everybody who can still come."""

from datetime import timedelta

import pytest

from accounts.models import Guardianship
from bookings.domain.vocabulary import Kind, PlaceKind, Standing
from bookings.models import AuditRow, Booking, Meeting, OutboxMessage, WaitingPlace
from bookings.operations import offers, places
from bookings.operations.subscriptions import open_feed
from bookings.queries.calendars import events_for, feed_bytes
from bookings.queries.places_audit import findings
from bookings.queries.waiting import line
from tests import cast
from tests.cast import NOW, at
from tests.integration.called_off import (
    LAST,
    LATER,
    OFF,
    back,
    consultation,
    group,
    off,
    refused,
    written_at,
)
from tests.letters import to, value

__all__ = ["group"]

pytestmark = pytest.mark.django_db


def test_everybody_is_in_it_again_and_waits_in_the_old_order(group):
    """The same bookings, counted again; the queue as it stood; one row of audit; nothing the guards
    would have to say.
    """
    off(group)
    done = back(group)
    meeting = Meeting.objects.get(pk=group.meeting.pk)
    assert (done.left_out, meeting.status, meeting.taken, meeting.called_off_why) == (
        [],
        "CONFIRMED",
        2,
        "",
    )
    assert list(Booking.objects.filter(standing=Standing.HELD)) == group.held
    assert [waits.student for waits in line(meeting, PlaceKind.PLAYER)] == group.students[2:]
    assert list(AuditRow.objects.filter(verb="reinstated").values_list("thing_id", "actor")) == [
        (meeting.pk, group.admin.pk)
    ]
    assert [one for one in findings() if one.rule != "guard-missing"] == []


def test_each_reader_is_told_once_and_only_who_is_in_it_by_a_request(group):
    """The students of the meeting and its instructor have an invitation, those who wait a plain
    message that they keep their position; the old reminders are replaced.
    """
    off(group)
    back(group)
    noor, _, juno, _ = group.students
    messages = written_at(LATER)
    assert {m.recipient for m in messages} == {
        group.ilse.user,
        *(student.user for student in group.students),
    }
    assert len(messages) == 5
    (told,) = to(messages, juno.user).values()
    assert (
        "You have the same position on its waiting list as before." in told.body,
        told.calendar,
    ) == (True, "")
    (taught,) = to(messages, group.ilse.user).values()
    assert (taught.method, value(taught.calendar, "STATUS")) == ("REQUEST", "CONFIRMED")
    assert set(
        OutboxMessage.objects.filter(
            recipient=noor.user, state="due", kind__startswith="reminder"
        ).values_list("state_key")
    ) == {("sequence:2",)}


def test_who_is_in_it_is_invited_anew(group):
    """RFC 5546 section 2.1.4: un-cancelling is a REQUEST with a higher SEQUENCE and
    STATUS:CONFIRMED; section 6.3: one ATTENDEE a message.

    Nobody has said yes again yet. The times stand on the reader's own clock first.
    """
    off(group)
    back(group)
    (invitation,) = to(written_at(LATER), group.students[0].user).values()
    event = invitation.calendar[invitation.calendar.index("BEGIN:VEVENT") :]
    assert [
        value(invitation.calendar, "METHOD"),
        value(event, "SEQUENCE"),
        value(event, "STATUS"),
    ] == ["REQUEST", "2", "CONFIRMED"]
    assert (value(event, "UID"), event.count("\r\nATTENDEE")) == (str(group.meeting.uid), 1)
    assert "PARTSTAT=NEEDS-ACTION" in event.replace("\r\n ", "")
    assert invitation.title == "Reinstated: Ornaments with I. Quarrow, Sun 14 March 13:00, New York"
    assert (
        "has been reinstated: Ornaments with I. Quarrow. Your place is kept as it was."
        in invitation.body
    )
    assert (
        "Sunday 14 March 2027, 13:00–14:00, New York\n"
        "  Sunday 14 March 2027, 17:00–18:00, Dublin (Ilse’s clock)"
    ) in invitation.body


def test_feeds_show_it_confirmed_again(group):
    """Who was in it, who teaches it and who had left it before: each feed has another revision, and
    only the last stays cancelled.
    """
    noor, marlo = group.students[:2]
    group.do(places.leave_place, actor=marlo.user, booking=group.held[1])
    feeds = [
        open_feed(actor=user, label="Phone", now=NOW)[0]
        for user in (noor.user, marlo.user, group.ilse.user)
    ]
    off(group)
    before = [
        (feed.refresh_from_db(), feed.revision, feed_bytes(feed, now=OFF))[1:] for feed in feeds
    ]
    assert {str(event.status) for feed in feeds for event in events_for(feed.owner, now=OFF)} == {
        "CANCELLED"
    }
    back(group)
    after = [
        (feed.refresh_from_db(), feed.revision, feed_bytes(feed, now=LATER))[1:] for feed in feeds
    ]
    for (old_revision, old), (revision, new) in zip(before, after, strict=True):
        assert revision > old_revision
        assert old != new
    shown = [
        [(event.status, event.sequence) for event in events_for(feed.owner, now=LATER)]
        for feed in feeds
    ]
    assert [status for ((status, _),) in shown] == ["CONFIRMED", "CANCELLED", "CONFIRMED"]


def test_somebody_has_booked_the_instructors_freed_time_meanwhile(group):
    """Refused as "taken", changeover included, and not a row is another."""
    off(group)
    consultation(group, cast.make_student("Robin Marsh"), group.ilse, at("2027-03-14T18:00Z"))
    refused("taken", group)


def test_who_has_another_meeting_by_now_is_named_and_their_place_goes_to_the_first_in_line(group):
    """Marlo is with Wren then: they are told so, and Juno, first in line, is offered the place
    instead of being told of their rank.
    """
    off(group)
    _, marlo, juno, otis = group.students
    consultation(group, marlo, group.wren, at("2027-03-14T17:30Z"))
    done = back(group)
    assert [(one.booking.student, one.code) for one in done.left_out] == [(marlo, "own-clash")]
    assert Booking.objects.get(meeting=group.meeting, student=marlo).standing == Standing.ENDED
    assert Booking.objects.get(standing=Standing.OFFERED).student == juno
    messages = written_at(LATER)
    (told,) = to(messages, marlo.user).values()
    assert (
        "Your place is not: another meeting has since been booked for that time." in told.body,
        told.calendar,
    ) == (True, "")
    assert {message.kind for message in messages if message.recipient == juno.user} == {
        "offer",
        "offer-reminder",
    }
    assert "position" in to(messages, otis.user)["told"].body
    assert (
        "No longer in it: Marlo Vance, level 4." in to(messages, group.ilse.user)["invitation"].body
    )


def test_a_family_with_one_child_in_and_one_out_has_one_message(group):
    """Kit is in it again; for Posy, who has another lesson by then, one more sentence says that
    they are not.
    """
    hedda = cast.make_user("Hedda Lindqvist-Reed", "Europe/Dublin")
    posy, kit = (
        cast.make_minor(name, "Europe/Dublin", guardian=hedda)
        for name in ("Posy Lindqvist-Reed", "Kit Lindqvist-Reed")
    )
    circle = group.make(at("2027-03-20T17:00Z"))
    for child in (posy, kit):
        group.do(places.book_place, child, actor=hedda, meeting=circle)
    off(group, meeting=circle)
    consultation(group, posy, group.wren, at("2027-03-20T17:00Z"))
    back(group, meeting=circle)
    (told,) = [message for message in written_at(LATER) if message.recipient == hedda]
    assert "Kit’s place is kept as it was. Posy’s place is not: another meeting" in told.body
    assert told.method == "REQUEST"


def test_a_minor_whose_consent_was_taken_back_stays_out(group):
    """Their guardian reads why; the others are in it."""
    posy = cast.make_minor(time_zone="Europe/Dublin")
    circle = group.make(at("2027-03-20T17:00Z"))
    group.do(places.book_place, posy, actor=posy.guardians.get(), meeting=circle)
    group.do(places.book_place, group.students[0], meeting=circle)
    off(group, meeting=circle)
    Guardianship.objects.update(consent_at=None, consent_wording="")
    done = back(group, meeting=circle)
    assert [(one.booking.student, one.code) for one in done.left_out] == [(posy, "consent-missing")]
    (told,) = [
        message for message in written_at(LATER) if message.recipient == posy.guardians.get()
    ]
    assert "Posy’s place is not: no guardian’s consent is on file." in told.body


def test_an_open_offer_is_made_anew_to_the_same_student(group):
    """It has had its time to answer; their rank has not changed, so they are asked first, and
    answers as to any offer.
    """
    group.do(places.leave_place, actor=group.admin, booking=group.held[0])
    off(group)
    back(group)
    juno = group.students[2]
    offer = Booking.objects.get(standing=Standing.OFFERED)
    assert (offer.student, offer.booked_at) == (juno, LATER)
    group.do(offers.accept_offer, actor=juno.user, booking=offer, now=LAST)
    assert Meeting.objects.get(pk=group.meeting.pk).taken == 2
    assert WaitingPlace.objects.filter(ended_at__isnull=True).get().student == group.students[3]


def test_a_second_return_brings_back_who_was_in_it_the_second_time(group):
    """Marlo had left before it was called off again: nothing earlier comes back."""
    off(group)
    back(group)
    group.do(places.leave_place, actor=group.students[1].user, booking=group.held[1], now=LAST)
    again, then = LAST + timedelta(hours=1), LAST + timedelta(hours=2)
    off(group, now=again)
    back(group, now=then)
    assert [booking.student for booking in Booking.objects.filter(standing=Standing.HELD)] == [
        group.students[0]
    ]


def test_a_meeting_in_a_masterclass_brings_its_listeners_back(group):
    """Players and listeners are counted apart."""
    masterclass = cast.make_offering("Masterclass", Kind.MASTERCLASS, 90)
    made = cast.make_meeting(
        masterclass, group.ilse, at("2027-03-20T17:00Z"), places=1, listener_places=2
    )
    group.do(places.book_place, group.students[0], meeting=made)
    group.do(places.book_place, group.students[1], meeting=made, place_kind=PlaceKind.LISTENER)
    off(group, meeting=made)
    back(group, meeting=made)
    assert Meeting.objects.values_list("taken", "listeners_taken").get(pk=made.pk) == (1, 1)
