"""Answers that calendars mail, and what the school makes of them."""

import io
import sys

import pytest
from django.core.management import call_command

from bookings import clock
from bookings.door import write
from bookings.models import Booking, IgnoredMail
from bookings.operations.booking import book_slot
from bookings.outbox.mailboxes import mailbox
from tests import cast
from tests.cast import NOW, at

START = at("2027-03-09T15:00Z")


@pytest.fixture
def booking(settings, monkeypatch):
    """Noor's consultation with Ilse on Tuesday 9 March, at a school that hears answers."""
    settings.REPLY_ADDRESS = "lessons+{key}@rowanmere.example"
    settings.REPLY_AUTHSERV_ID = "mx.rowanmere.example"
    monkeypatch.setattr(clock, "now", lambda: NOW)
    cast.make_policy()
    ilse, offering = cast.make_instructor(), cast.make_offering()
    cast.teaches(ilse, offering)
    cast.publish(ilse, cast.EVERY_DAY)
    noor = cast.make_student()
    made = lambda: book_slot(  # noqa: E731
        actor=noor.user, student=noor, offering=offering, instructor=ilse, starts_at=START, now=NOW
    )
    return write(made, now=NOW)


def answer(booking, method="REPLY", **change):
    """The mail that their calendar writes; `change` bends one thing of it."""
    reader = booking.student.user
    told = {
        "sender": reader.email,
        "attendee": reader.email,
        "to": mailbox(booking.meeting, reader.pk),
        "partstat": "ACCEPTED",
        "sequence": 0,
        "stamp": "20270301T090500Z",
        "starts": "20270309T150000Z",
        "uid": str(booking.meeting.uid),
        "header": "",
        "results": "mx.rowanmere.example; dmarc=pass header.from=rowanmere.example",
        **change,
    }
    return (
        (
            "Authentication-Results: {results}\r\n"
            "From: Noor <{sender}>\r\nTo: {to}\r\nSubject: Re\r\n{header}MIME-Version: 1.0\r\n"
            'Content-Type: text/calendar; method={method}; charset="UTF-8"\r\n\r\n'
            "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//Somebody//EN\r\nMETHOD:{method}\r\n"
            "BEGIN:VEVENT\r\nUID:{uid}\r\nDTSTAMP:{stamp}\r\n"
            "DTSTART:{starts}\r\nSEQUENCE:{sequence}\r\nORGANIZER:mailto:{to}\r\n"
            "ATTENDEE;PARTSTAT={partstat}:mailto:{attendee}\r\n"
            "COMMENT:canary-71b2\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"
        )
        .format(method=method, **told)
        .encode()
    )


def receive(mail, monkeypatch, **options):
    stdin = io.TextIOWrapper(io.BytesIO(mail))
    monkeypatch.setattr(sys, "stdin", stdin)
    call_command("receive_mail", **options)


def ignored():
    return dict(IgnoredMail.objects.values_list("reason", "count"))


def again(booking):
    return Booking.objects.select_related("meeting", "student__user").get(pk=booking.pk)
