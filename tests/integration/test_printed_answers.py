"""RFC 5546 section 4: answers and refreshes, and which printed exchanges are not ours."""

import re
from pathlib import Path

import pytest

from bookings.models import OutboxMessage
from tests.integration.printed_story import answer_of, ignored, story

__all__ = ["story"]

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("method", "lines", "attendee"),
    [
        (
            "COUNTER",
            ["RECURRENCE-ID:19970715T210000Z", "DTSTART:20270319T150000Z", "SEQUENCE:0"],
            "RSVP=TRUE",
        ),  # 4.4.9
        (
            "REPLY",
            ["RECURRENCE-ID:19970715T210000Z", "SEQUENCE:0"],
            "PARTSTAT=DECLINED",
        ),  # of 4.4.2
        (
            "REPLY",
            ["RRULE:FREQ=WEEKLY;COUNT=20;WKST=SU;BYDAY=TU", "SEQUENCE:0"],
            "PARTSTAT=DECLINED",
        ),  # of 4.4.1
        (
            "REPLY",
            ["REQUEST-STATUS:3.1;Invalid property value;DTSTART", "SEQUENCE:0"],
            "RSVP=FALSE",
        ),  # 4.4.10
    ],
)
def test_answers_about_an_instance_and_errors_change_nothing(story, method, lines, attendee):
    """Sections 4.4.1, 4.4.2, 4.4.9 and 4.4.10: no place is given up for one instance of what does
    not recur, nor for an error.
    """
    booking = story.taught()
    story.hears(booking.meeting, lines, day=1, method=method, attendee=attendee)
    assert (answer_of(booking), ignored()) == (("ACCEPTED", "HELD"), {"malformed": 1})


def test_4_4_8_a_refresh_is_answered_with_the_current_request(story):
    """REFRESH names UID and ATTENDEE alone; the same REQUEST leaves again: SEQUENCE and DTSTAMP as
    they were.
    """
    meeting = story.taught().meeting
    rows = OutboxMessage.objects.filter(meeting=meeting, recipient=story.b.user, method="REQUEST")
    rows.update(state="sent", sent_at=story.now)
    before = rows.get().calendar
    story.hears(meeting, [], day=1, method="REFRESH", attendee="CN=B")
    assert (rows.get().state, rows.get().calendar, ignored()) == ("due", before, {})


NOT_OURS = {
    "4.1.4 a richly described event": (
        "GEO, ATTACH, VALARM: we attach nothing, and alarms are the reader's wish (RFC 5545 3.6.6)"
    ),
    "4.1.5 whole days": "no meeting of ours lasts a day, and none recurs",
    "4.2.5 delegating": "a place is a student's and cannot be passed on: DELEGATED is not heard",
    "4.2.6 the delegate accepts": "we sent the delegate nothing, so the mailbox does not know them",
    "4.2.7 the delegate declines": "as in 4.2.6",
    "4.2.8 forwarding": "the new reader is a party crasher (section 3.2.3): capacity is limited",
    "4.2.11 another organizer": "the mailbox never changes in a meeting's life (section 3.2.2.5)",
    "4.4.1 a series": "read from foreign calendars only: test_calendars_busy plays it",
    "4.4.2 one instance moved": "each lesson has a UID of its own, so moving one is 4.2.3",
    "4.4.3 one instance cancelled": "for the same reason this is 4.2.9",
    "4.4.4 a series cancelled": "each lesson ends by itself, or in an email about the weekly place",
    "4.4.5 all from one instance on": "no meeting of ours recurs",
    "4.4.6 an instance added": "a new lesson is a new meeting with its own REQUEST",
    "4.4.7 a second series": "no meeting of ours recurs",
    "4.4.9 an instance countered": "RECURRENCE-ID in an answer is not heard",
    "4.4.10 an error for an answer": "a person reads our email too; nothing follows from an error",
}
"""Printed exchanges that our meetings, which do not recur and cannot be passed on, have no use for.

What a calendar might send of them all the same is refused below.
"""


def test_each_printed_exchange_is_played_or_has_a_reason():
    """Sections 4.1, 4.2 and 4.4 whole: by the name of the test that plays it, or in the table
    above.
    """
    both = "".join(path.read_text() for path in Path(__file__).parent.glob("test_printed_*.py"))
    played = set()
    for name in re.findall(r"^def (test_4\w+)", both, re.MULTILINE):
        for part, first, last in re.findall(
            r"(?:^test|_and)_4_(\d)_(\d+)(?:_to_4_\d_(\d+))?", name
        ):
            played |= {f"4.{part}.{number}" for number in range(int(first), int(last or first) + 1)}
    printed = {
        f"4.{part}.{number}"
        for part, last in ((1, 5), (2, 11), (4, 10))
        for number in range(1, last + 1)
    }
    assert played | {reason.partition(" ")[0] for reason in NOT_OURS} == printed
