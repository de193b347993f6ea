"""TRADE.md 8, scenario 23: a calendar that is moved twice and then called off."""

import pytest

from accounts.models import Student, User
from bookings import outbox
from bookings.domain.vocabulary import Kind
from bookings.door import write
from bookings.models import Booking, OutboxMessage
from bookings.operations.booking import book_slot, cancel_slot, move_slot
from tests import cast
from tests.cast import NOW, at
from tests.letters import value

pytestmark = pytest.mark.django_db


class Diary:
    """A calendar program: keeps entries by UID and lets nothing older overwrite them (RFC 5546
    section 2.1.5).
    """

    def __init__(self) -> None:
        self.entries: dict[str | None, str] = {}
        self.seen: list[tuple[str | None, int]] = []

    def take(self, message: OutboxMessage) -> None:
        entry = message.calendar[message.calendar.index("BEGIN:VEVENT") :]
        uid, sequence = value(entry, "UID"), int(value(entry, "SEQUENCE") or 0)
        held = self.entries.get(uid)
        assert held is None or sequence > int(value(held, "SEQUENCE") or 0)
        self.entries[uid] = entry
        self.seen.append((value(message.calendar, "METHOD"), sequence))

    def receive(self, reader: User) -> None:
        """Takes what has been sent to the reader since it last looked."""
        outbox.drain(lambda: NOW)
        sent = (
            OutboxMessage.objects.filter(recipient=reader, state="sent")
            .exclude(calendar="")
            .order_by("sequence")
        )
        for message in sent[len(self.seen) :]:
            self.take(message)


def booked(noor: Student) -> Booking:
    """A lesson of Noor's with Ilse, who teaches every day."""
    cast.make_policy()
    ilse = cast.make_instructor()
    lesson = cast.make_offering("Harp lesson", Kind.PRIVATE_LESSON, 25)
    cast.teaches(ilse, lesson)
    cast.publish(ilse, cast.EVERY_DAY)
    asked = {
        "student": noor,
        "offering": lesson,
        "instructor": ilse,
        "starts_at": at("2027-03-12T17:00Z"),
    }
    return write(lambda: book_slot(actor=noor.user, now=NOW, **asked), now=NOW)


def test_a_calendar_holds_one_entry_through_two_moves_and_the_end() -> None:
    """Given Noor's invite was accepted, when the time moves twice and then is called off, then
    their calendar holds one entry, updated three times, same UID, rising sequence, at last
    cancelled.
    """
    noor, diary = cast.make_student(), Diary()
    booking = booked(noor)
    diary.receive(noor.user)
    for starts_at in (at("2027-03-15T17:00Z"), at("2027-03-16T18:00Z")):
        asked = {"booking": booking, "starts_at": starts_at}
        write(lambda asked=asked: move_slot(actor=noor.user, now=NOW, **asked), now=NOW)
        diary.receive(noor.user)
        (entry,) = diary.entries.values()
        assert value(entry, "DTSTART") == f"{starts_at:%Y%m%dT%H%M%S}"  # Dublin in winter
    write(lambda: cancel_slot(actor=noor.user, booking=booking, now=NOW), now=NOW)
    diary.receive(noor.user)
    assert diary.seen == [("REQUEST", 0), ("REQUEST", 1), ("REQUEST", 2), ("CANCEL", 3)]
    assert list(diary.entries) == [str(booking.meeting.uid)]
    assert value(diary.entries[str(booking.meeting.uid)], "STATUS") == "CANCELLED"
