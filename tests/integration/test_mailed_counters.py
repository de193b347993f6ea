"""A mailed COUNTER waits for a person, and guardians answer for their children only."""

from datetime import timedelta

import pytest

from bookings.domain.vocabulary import Kind
from bookings.domain.zones import zone
from bookings.door import write
from bookings.models import Booking, MoveRequest, OutboxMessage
from bookings.operations.move_requests import accept_move_request, refuse_move_request
from bookings.operations.places import book_place
from bookings.outbox.mailboxes import mailbox
from tests import cast
from tests.cast import NOW, at
from tests.integration.mailed import START, again, answer, booking, ignored, receive
from tests.letters import value

__all__ = ["booking"]
pytestmark = pytest.mark.django_db


def test_a_counter_waits_for_a_person_who_accepts(booking, monkeypatch):
    """RFC 5546 section 4.2.4: SEQUENCE 0 countered, accepted as a REQUEST with SEQUENCE 1; until
    then nothing moves.
    """
    receive(answer(booking, "COUNTER", starts="20270310T160000Z"), monkeypatch)
    asked = MoveRequest.objects.get()
    assert (asked.starts_at, asked.state, again(booking).starts_at) == (
        at("2027-03-10T16:00Z"),
        "open",
        START,
    )
    assert (
        OutboxMessage.objects.get(title__startswith="Asked to move").recipient
        == booking.meeting.instructor.user
    )
    write(
        lambda: accept_move_request(actor=booking.meeting.instructor.user, request=asked, now=NOW),
        now=NOW,
    )
    told = OutboxMessage.objects.get(recipient=booking.student.user, method="REQUEST", sequence=1)
    assert (again(booking).starts_at, MoveRequest.objects.get().state) == (
        at("2027-03-10T16:00Z"),
        "accepted",
    )
    assert value(told.calendar, "UID") == str(booking.meeting.uid)


@pytest.mark.parametrize("starts", ["99991231T235959Z", "22000101T000000Z", "00010101T000000Z"])
def test_a_counter_to_a_year_that_no_clock_can_show_is_ignored(booking, monkeypatch, starts):
    """The end of the year 9999 is no instant in Sydney: the mail is ignored, and nothing fails."""
    teacher = booking.meeting.instructor.user
    teacher.time_zone = zone("Australia/Sydney")
    teacher.save()
    receive(answer(booking, "COUNTER", starts=starts), monkeypatch)
    assert ignored() == {"malformed": 1}
    assert not MoveRequest.objects.exists()


def test_a_refused_counter_is_declined_to_its_calendar(booking, monkeypatch):
    """RFC 5546 section 3.2.8: DECLINECOUNTER echoes UID and SEQUENCE, and the SEQUENCE that was
    sent last stays.
    """
    receive(answer(booking, "COUNTER", starts="20270310T160000Z"), monkeypatch)
    asked = MoveRequest.objects.select_related("booking__meeting").get()
    write(
        lambda: refuse_move_request(actor=booking.meeting.instructor.user, request=asked, now=NOW),
        now=NOW,
    )
    told = OutboxMessage.objects.get(method="DECLINECOUNTER")
    assert (value(told.calendar, "METHOD"), value(told.calendar, "UID")) == (
        "DECLINECOUNTER",
        str(booking.meeting.uid),
    )
    assert (value(told.calendar, "SEQUENCE"), again(booking).starts_at) == ("0", START)


def test_a_guardian_no_more_reads_no_answer(booking, monkeypatch):
    """Whoever asked may have left the family since: then nobody's calendar waits, and those who are
    written to now have the letter.
    """
    gone, hedda = cast.make_user("Tam Reed"), cast.make_user("Hedda Reed")
    posy = cast.make_minor(guardian=hedda)
    Booking.objects.update(student=posy)
    asked = MoveRequest.objects.create(
        booking=again(booking),
        asked_by=gone,
        starts_at=START + timedelta(days=1),
        sequence=0,
        asked_at=NOW,
    )
    write(
        lambda: refuse_move_request(actor=booking.meeting.instructor.user, request=asked, now=NOW),
        now=NOW,
    )
    assert list(
        OutboxMessage.objects.filter(title__startswith="Not moved").values_list(
            "recipient", "method"
        )
    ) == [(hedda.pk, "")]


def test_a_guardian_who_declines_a_group_gives_back_their_childs_place(booking, monkeypatch):
    """The place in a group is given back; the meeting stays for everybody else, so their CANCEL has
    no STATUS.
    """
    group = cast.make_offering("Studio class", Kind.GROUP_MEETING, 50)
    meeting = cast.make_meeting(
        group, cast.make_instructor("Wren Hale"), at("2027-03-12T09:00Z"), places=3
    )
    posy = cast.make_minor()
    hedda = posy.guardians.get()
    made = lambda: book_place(  # noqa: E731
        actor=hedda, student=posy, meeting=meeting, place_kind="player", now=NOW
    )
    place = write(made, now=NOW)
    change = {
        "sender": hedda.email,
        "attendee": hedda.email,
        "to": mailbox(meeting, hedda.pk),
        "partstat": "DECLINED",
    }
    mail = answer(booking, **change, uid=str(meeting.uid))
    receive(mail, monkeypatch)
    told = OutboxMessage.objects.get(recipient=hedda, method="CANCEL")
    assert (again(place).standing, again(place).meeting.status) == ("ENDED", "CONFIRMED")
    assert (value(told.calendar, "STATUS"), value(told.calendar, "SEQUENCE")) == (None, "1")
