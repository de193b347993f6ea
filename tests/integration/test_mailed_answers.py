"""What a calendar's mailed answer does to a booking: RFC 5546 sections 3.2.3 (REPLY), 3.2.6
(REFRESH), 3.2.7 and 3.2.8 (COUNTER).
"""

from datetime import timedelta

import pytest
from django.db import OperationalError

from bookings import clock
from bookings.door import write
from bookings.models import LastAnswer, OutboxMessage
from bookings.operations.booking import move_slot
from bookings.outbox.mailboxes import mailbox, opened
from tests.cast import NOW
from tests.integration.mailed import START, again, answer, booking, ignored, receive

__all__ = ["booking"]
pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("partstat", ["ACCEPTED", "TENTATIVE"])
def test_an_answer_is_noted(booking, monkeypatch, partstat):
    """ACCEPTED and TENTATIVE are kept as their PARTSTAT; nothing else changes and nobody is written
    to.
    """
    before = OutboxMessage.objects.count()
    receive(answer(booking, partstat=partstat), monkeypatch)
    assert (again(booking).partstat, again(booking).standing, ignored()) == (partstat, "HELD", {})
    assert OutboxMessage.objects.count() == before


def test_declined_in_time_frees_the_place_and_says_so(booking, monkeypatch):
    """Eight days before, DECLINED cancels in time: the calendars of both get a CANCEL."""
    receive(answer(booking, partstat="DECLINED"), monkeypatch)
    ended = again(booking)
    assert (ended.standing, ended.ended_why, ended.meeting.status) == (
        "ENDED",
        "cancelled-in-time",
        "CANCELLED",
    )
    cancels = OutboxMessage.objects.filter(method="CANCEL")
    assert {message.recipient for message in cancels} == {
        booking.student.user,
        booking.meeting.instructor.user,
    }


def test_declined_after_the_notice_gives_nothing_up(booking, monkeypatch):
    """An hour before, the place is still theirs: it is noted, and one letter says how to cancel."""
    monkeypatch.setattr(clock, "now", lambda: START - timedelta(hours=1))
    receive(answer(booking, partstat="DECLINED"), monkeypatch)
    assert (again(booking).standing, again(booking).partstat) == ("HELD", "DECLINED")
    letter = OutboxMessage.objects.get(title__startswith="Still booked")
    assert (
        letter.recipient == booking.student.user
        and "still booked" in letter.body
        and letter.method == ""
    )


def test_older_answers_are_dropped(booking, monkeypatch):
    """Same SEQUENCE with an older DTSTAMP, the same mail twice, and an answer to a time that has
    changed: RFC 5546 section 2.1.5.
    """
    receive(answer(booking, partstat="TENTATIVE", stamp="20270301T091000Z"), monkeypatch)
    receive(answer(booking, partstat="DECLINED", stamp="20270301T090500Z"), monkeypatch)
    receive(answer(booking, partstat="TENTATIVE", stamp="20270301T091000Z"), monkeypatch)
    noor = booking.student.user
    write(
        lambda: move_slot(
            actor=noor, booking=again(booking), starts_at=START + timedelta(hours=1), now=NOW
        ),
        now=NOW,
    )
    receive(answer(booking, partstat="DECLINED", stamp="20270301T092000Z"), monkeypatch)
    assert (again(booking).partstat, again(booking).standing, ignored()) == (
        "TENTATIVE",
        "HELD",
        {"old": 3},
    )


def test_a_stamp_ahead_of_now_mutes_no_later_answer(booking, monkeypatch):
    """One written ten years ahead counts as written now; a minute later an honest one is heard."""
    receive(answer(booking, partstat="TENTATIVE", stamp="20370301T090000Z"), monkeypatch)
    assert again(booking).partstat == "TENTATIVE"
    receive(answer(booking, stamp="20370301T090001Z"), monkeypatch)
    assert (again(booking).partstat, ignored()) == ("TENTATIVE", {"old": 1})
    monkeypatch.setattr(clock, "now", lambda: NOW + timedelta(minutes=1))
    receive(answer(booking, stamp="20270301T090100Z"), monkeypatch)
    assert (again(booking).partstat, ignored()) == ("ACCEPTED", {"old": 1})
    assert LastAnswer.objects.get().stamp == NOW + timedelta(minutes=1)


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"sender": "mallory@elsewhere.example", "partstat": "ACCEPTED"}, "unknown-sender"),
        ({"to": "lessons@rowanmere.example"}, "unknown-address"),
        ({"to": "lessons+1-1-aaaaaaaaaaaaaaaaaaaaaaaaaa@rowanmere.example"}, "unknown-address"),
        ({"uid": "another"}, "malformed"),
        ({"sequence": 7}, "malformed"),
        ({"sequence": -1}, "malformed"),
        ({"partstat": "DELEGATED"}, "malformed"),
        ({"stamp": "yesterday"}, "malformed"),
        ({"header": "Auto-Submitted: auto-replied\r\n"}, "automatic"),
        ({"header": "Precedence: bulk\r\n"}, "automatic"),
        ({"header": "Return-Path: <>\r\n"}, "automatic"),
    ],
)
def test_a_mail_that_is_not_theirs_changes_nothing_and_is_counted(
    booking, monkeypatch, change, reason
):
    """Strangers (RFC 6047 section 2.2.1), machines (RFC 3834) and nonsense: nothing written but one
    count, nobody answered.
    """
    before = OutboxMessage.objects.count()
    receive(answer(booking, **{"partstat": "DECLINED", **change}), monkeypatch)
    assert (again(booking).partstat, again(booking).standing, ignored()) == (
        "ACCEPTED",
        "HELD",
        {reason: 1},
    )
    assert OutboxMessage.objects.count() == before


def test_a_mail_of_300_kilobytes_is_not_read(booking, monkeypatch):
    """More than 256 KB is counted as too large."""
    receive(answer(booking) + b"x" * 300_000, monkeypatch)
    assert ignored() == {"too-large": 1}


def test_more_than_ten_answers_an_hour_are_not_heard(booking, monkeypatch):
    """The eleventh about one meeting is ignored; an hour later one is heard again."""
    monkeypatch.setattr(clock, "now", lambda: NOW + timedelta(minutes=15))
    for minute in range(11):
        receive(
            answer(
                booking,
                stamp=f"20270301T09{minute:02}00Z",
                partstat="TENTATIVE" if minute < 10 else "DECLINED",
            ),
            monkeypatch,
        )
    assert (again(booking).partstat, ignored()) == ("TENTATIVE", {"too-many": 1})
    monkeypatch.setattr(clock, "now", lambda: NOW + timedelta(minutes=75))
    receive(answer(booking, stamp="20270301T095900Z"), monkeypatch)
    assert again(booking).partstat == "ACCEPTED"


def test_a_refresh_brings_the_same_request_again(booking, monkeypatch):
    """REFRESH: the same row leaves once more, with its SEQUENCE and Message-ID; nothing new is
    written.
    """
    sent = OutboxMessage.objects.get(recipient=booking.student.user, method="REQUEST")
    OutboxMessage.objects.filter(pk=sent.pk).update(state="sent", sent_at=NOW)
    before = OutboxMessage.objects.count()
    receive(answer(booking, "REFRESH"), monkeypatch)
    now = OutboxMessage.objects.get(pk=sent.pk)
    assert (now.state, now.sequence, now.message_id, now.calendar) == (
        "due",
        0,
        sent.message_id,
        sent.calendar,
    )
    assert (OutboxMessage.objects.count(), ignored()) == (before, {})


def test_the_mailbox_is_theirs_alone_and_organises_the_meeting(booking):
    """ORGANIZER is the mailbox, SENT-BY the school; another's key, or one letter changed, opens
    nothing.
    """
    address = mailbox(booking.meeting, booking.student.user_id)
    told = OutboxMessage.objects.get(
        recipient=booking.student.user, method="REQUEST"
    ).calendar.replace("\r\n ", "")
    assert f"mailto:{address}" in told and 'SENT-BY="mailto:lessons@rowanmere.example"' in told
    assert opened(address.upper()) == (booking.meeting_id, booking.student.user_id)
    assert opened(address.replace("@", "a@")) is None
    assert opened(address.replace(f"+{booking.meeting_id}-", f"+{booking.meeting_id + 1}-")) is None


def test_nothing_of_the_mail_is_stored(booking, monkeypatch):
    """The comment in the answer is in no row."""
    receive(answer(booking, "COUNTER", starts="20270310T160000Z"), monkeypatch)
    assert not any(
        "canary" in message.body + message.calendar for message in OutboxMessage.objects.all()
    )


def test_while_the_database_is_away_the_mail_server_tries_again(booking, monkeypatch):
    """EX_TEMPFAIL of sysexits, 75."""

    def away(*_, **__):
        raise OperationalError("the connection is closed")

    monkeypatch.setattr("bookings.management.commands.receive_mail.hear", away)
    with pytest.raises(SystemExit) as ended:
        receive(answer(booking), monkeypatch)
    assert ended.value.code == 75
