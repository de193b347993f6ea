"""The booking operation: its statements and its growth; and a feed of 500 meetings beside
icalendar's own writing.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from statistics import median
from typing import Any

from django.core.cache import cache
from django.test import Client
from icalendar import Calendar

from accounts.models import Instructor, Student
from bookings import door
from bookings.models import Booking, Offering, OutboxMessage
from bookings.notices.places import booking_made
from bookings.operations.booking import book_slot
from bookings.operations.subscriptions import open_feed
from bookings.outbox.sending import send
from bookings.queries.slots import slots_for
from tests import cast
from tests.bench import databases, stored
from tests.bench.api import statements
from tests.bench.timing import median_of, paired, seconds_of

BOOKINGS = 31
ABOUT_TRANSACTIONS = ("BEGIN", "SAVEPOINT", "RELEASE", "COMMIT")


@dataclass(frozen=True, slots=True)
class Wish:
    """A booking to be made: each by another student at another start."""

    student: Student
    instructor: Instructor
    offering: Offering
    starts_at: datetime

    def book(self) -> Booking:
        """Through the write door, as an interface does it."""
        make = {
            "actor": self.student.user,
            "student": self.student,
            "offering": self.offering,
            "instructor": self.instructor,
            "starts_at": self.starts_at,
        }
        return door.write(lambda: book_slot(**make, now=stored.NOW), now=stored.NOW)


def wishes(most: int = BOOKINGS + 5) -> Iterator[Wish]:
    """One wish after another, far enough ahead for both reminders; an instructor's lie on different
    days.
    """
    lesson = Offering.objects.get()
    people = {person.pk: person for person in Instructor.objects.select_related("user")}
    asking = Student.objects.select_related("user").order_by("pk")
    span = {
        "since": stored.NOW + timedelta(days=2),
        "until": stored.NOW + timedelta(days=28),
        "now": stored.NOW,
    }
    slots = slots_for(offering=lesson, student=asking[0], **span).slots
    apart = {(slot.instructor_id, slot.starts_at.date()): slot for slot in slots}.values()
    # The last students have no meetings in the window, so every start suits them.
    for slot, student in zip(apart, asking.reverse()[:most], strict=False):
        yield Wish(student, people[slot.instructor_id], lesson, slot.starts_at)


def booking_figures() -> tuple[dict[str, float], dict[str, str]]:
    """What one booking sends, on the database in use."""
    wished = wishes()
    next(wished).book()
    with statements() as sent:
        next(wished).book()
    counted = [sql for sql, _ in sent if not sql.startswith(ABOUT_TRANSACTIONS)]
    return {"booking_queries": len(counted)}, {
        "booking_queries": (
            (
                "statements of book_slot for a consultation inside the transaction, without "
                "sign-in, the reads before it and savepoints: "
            )
            + ", ".join(sql.split()[0] for sql in counted)
        )
    }


def growth(small: str, large: str, *, meetings: str) -> tuple[dict[str, float], dict[str, str]]:
    """The same bookings in both databases in turn."""
    making = {}
    for name in (small, large):
        databases.use(name)
        making[name] = wishes()
    pairs = []
    for _ in range(BOOKINGS):
        pair = []
        for name in (small, large):
            databases.use(name)
            # The connection and the file's first pages are not what is measured.
            Offering.objects.count()
            pair.append(seconds_of(next(making[name]).book))
        pairs.append(pair)
    return {"booking_growth": median(b / a for a, b in pairs)}, {
        "booking_growth": (
            f"book_slot through the write door, commit included, {meetings} meetings: "
            f"{median(a for a, _ in pairs) * 1e3:.1f} and "
            f"{median(b for _, b in pairs) * 1e3:.1f} ms"
        )
    }


def invitation_figures() -> tuple[dict[str, float], dict[str, str]]:
    """One booking's invitations, from its row to the bytes that leave, on the database in use."""
    booking = next(wishes(1)).book()

    def letters() -> list[OutboxMessage]:
        made = [message for message in booking_made(booking, now=stored.NOW) if message.calendar]
        for message in made:
            send(message)
        return made

    count, seconds = len(letters()), median_of(letters, runs=31)
    return {"invitation_ms": seconds * 1e3 / count}, {
        "invitation_ms": (
            f"one of a booking's {count} invitations: rows read, worded, calendar, text and HTML "
            "composed, written to a file"
        )
    }


def feed_figures() -> tuple[dict[str, float], dict[str, str]]:
    """An instructor's feed of 500 meetings, on the database in use: first body, body again, 304."""
    client, address = Client(), _feed_of_500()

    def first() -> Any:
        cache.clear()
        return client.get(address)

    answer = first()
    events = Calendar.from_ical(answer.content)
    if len(events.walk("VEVENT")) != 500:
        raise AssertionError(answer.content[:500])
    with statements() as first_sent:
        first()
    with statements() as again_sent:
        client.get(address)
    with statements() as unchanged_sent:
        if client.get(address, headers={"If-None-Match": answer["ETag"]}).status_code != 304:
            raise AssertionError("the feed has changed by itself")
    both = paired(events.to_ical, first, runs=11)
    return {
        "feed_body_vs_icalendar": both.ratio,
        "feed_first_queries": len(first_sent),
        "feed_again_queries": len(again_sent),
        "feed_304_queries": len(unchanged_sent),
    }, {
        "feed_body_vs_icalendar": (
            f"GET of a feed of 500 meetings with nothing kept ({both.second * 1e3:.0f} ms, rows, "
            "rendering and middlewares) over "
            f"icalendar's to_ical of the same events, already built ({both.first * 1e3:.0f} ms)"
        ),
        "feed_first_queries": "the same GET",
        "feed_again_queries": "the next GET, from kept bytes",
        "feed_304_queries": "GET with If-None-Match",
    }


def _feed_of_500() -> str:
    """The address of a new instructor's feed of 500 meetings, ten a day from today on."""
    person = cast.make_instructor("Bram Tolliver", "Australia/Lord_Howe")
    lesson = Offering.objects.get()
    for number in range(500):
        starts_at = stored.TODAY + timedelta(days=number // 10, hours=number % 10)
        cast.make_meeting(lesson, person, starts_at, made_at=stored.NOW)
    return f"/calendar/{open_feed(actor=person.user, label='Phone', now=stored.NOW)[1]}.ics"
