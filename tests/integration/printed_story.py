"""The people of the printed exchanges of RFC 5546 section 4, and the mails they get."""

import io
import sys
from dataclasses import dataclass
from datetime import timedelta

import pytest
from django.core.management import call_command

from bookings import clock
from bookings.domain.vocabulary import Kind
from bookings.door import write
from bookings.models import Booking, IgnoredMail, OutboxMessage
from bookings.operations.booking import book_slot
from bookings.operations.meetings import create_meeting
from bookings.operations.places import book_place
from bookings.outbox.mailboxes import mailbox
from tests import cast
from tests.cast import NOW, at
from tests.letters import value

DAY, MX = timedelta(days=1), "mx.rowanmere.example"
CIRCLE, LESSON = at("2027-03-20T19:00Z"), at("2027-03-18T15:00Z")


@dataclass
class Story:
    """A group with B, C and D in it, and B's own lesson; A is the school."""

    monkeypatch: pytest.MonkeyPatch

    def __post_init__(self) -> None:
        cast.make_policy()
        self.admin, self.chair = cast.make_admin(), cast.make_instructor()
        self.circle = cast.make_offering("Conference", Kind.GROUP_MEETING, 60)
        self.lesson = cast.make_offering("Private lesson", Kind.PRIVATE_LESSON, 50)
        cast.teaches(self.chair, self.lesson, self.circle)
        cast.publish(self.chair, cast.EVERY_DAY)
        self.b, self.c, self.d = (
            cast.make_student(f"{name} Example") for name in ("Bo", "Cy", "Di")
        )
        self.day = 0

    @property
    def now(self):
        return NOW + self.day * DAY

    def do(self, operation, *, day, **asked):
        """One operation on that day of the story, the first being 0."""
        self.day = day
        return write(lambda: operation(now=self.now, **asked), now=self.now)

    def grouped(self):
        """Day 0: the conference with its three attendees."""
        asked = {
            "offering": self.circle,
            "instructor": self.chair,
            "starts_at": CIRCLE,
            "title": "Conference",
            "places": 6,
        }
        meeting = self.do(create_meeting, day=0, actor=self.admin, **asked)
        for student in (self.b, self.c, self.d):
            self.do(
                book_place,
                day=0,
                actor=student.user,
                student=student,
                meeting=meeting,
                place_kind="player",
            )
        return meeting

    def taught(self):
        """Day 0: B's own lesson."""
        asked = {
            "actor": self.b.user,
            "student": self.b,
            "offering": self.lesson,
            "instructor": self.chair,
            "starts_at": LESSON,
        }
        return self.do(book_slot, day=0, **asked)

    def hears(
        self, meeting, lines, *, day, method="REPLY", sender=None, attendee="PARTSTAT=ACCEPTED"
    ):
        """A mail of B's calendar, or of `sender`'s, with these lines of the printed object, a day
        and half an hour into the story.
        """
        self.day = day
        who, to = sender or self.b.user.email, mailbox(meeting, self.b.user_id)
        stamp = f"DTSTAMP:{self.now + timedelta(minutes=30):%Y%m%dT%H%M%SZ}"
        event = [
            f"ATTENDEE;{attendee}:mailto:{who}",
            f"ORGANIZER:mailto:{to}",
            f"UID:{meeting.uid}",
            *lines,
            stamp,
        ]
        calendar = [
            "BEGIN:VCALENDAR",
            "PRODID:-//Example/ExampleCalendarClient//EN",
            f"METHOD:{method}",
            "VERSION:2.0",
            "BEGIN:VEVENT",
        ]
        head = [
            f"Authentication-Results: {MX}; dmarc=pass header.from={who.rpartition('@')[2]}",
            f"From: {who}",
            f"To: {to}",
            "MIME-Version: 1.0",
            f"Content-Type: text/calendar; method={method}; charset=UTF-8",
            "",
        ]
        mail = "\r\n".join([*head, *calendar, *event, "END:VEVENT", "END:VCALENDAR", ""]).encode()
        self.monkeypatch.setattr(clock, "now", lambda: self.now + timedelta(hours=1))
        self.monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(mail)))
        call_command("receive_mail")


@pytest.fixture
def story(settings, monkeypatch):
    settings.REPLY_ADDRESS, settings.REPLY_AUTHSERV_ID = "a+{key}@rowanmere.example", MX
    return Story(monkeypatch)


def sent(meeting, student):
    """What one attendee's calendar was sent about a meeting, in order: METHOD, SEQUENCE, STATUS and
    PARTSTAT as section 4 prints them.

    Checked of each: one UID, one ATTENDEE (section 6.3), the same ORGANIZER, and DTSTAMPs that
    rise.
    """
    rows = list(
        OutboxMessage.objects.filter(meeting=meeting, recipient=student.user)
        .exclude(method="")
        .order_by("pk")
    )
    written = [row.calendar.replace("\r\n ", "") for row in rows]
    assert {value(one, "UID") for one in written} == {str(meeting.uid)}
    assert all(
        value(one, "ORGANIZER").endswith(f":mailto:{mailbox(meeting, student.user_id)}")
        for one in written
    )
    assert all(
        one.count("\r\nATTENDEE") == 1 and value(one, "ATTENDEE") == f"mailto:{student.user.email}"
        for one in written
    )
    stamps = [value(one, "DTSTAMP") for one in written]
    assert stamps == sorted(set(stamps))
    assert [row.method for row in rows] == [value(one, "METHOD") for one in written]
    return [
        (value(one, "METHOD"), value(one, "SEQUENCE"), value(one, "STATUS"), partstat(one))
        for one in written
    ]


def partstat(written):
    (line,) = (line for line in written.split("\r\n") if line.startswith("ATTENDEE"))
    return next(
        (
            part.removeprefix("PARTSTAT=")
            for part in line.split(";")
            if part.startswith("PARTSTAT=")
        ),
        None,
    )


def answer_of(booking):
    found = Booking.objects.get(pk=booking.pk)
    return found.partstat, found.standing


def ignored():
    return dict(IgnoredMail.objects.values_list("reason", "count"))
