"""A meeting's ORGANIZER stays when the school's address changes: RFC 5546 section 3.2.2.5, "the
same for all instances".
"""

import re
from datetime import timedelta
from typing import Any

import pytest

from bookings import clock, notices, outbox
from bookings.domain.vocabulary import Kind
from bookings.door import write
from bookings.models import Booking, Meeting, OutboxMessage
from bookings.operations.booking import cancel_slot, move_slot
from bookings.operations.calling_off import call_off
from bookings.operations.meetings import change_meeting
from bookings.outbox.mailboxes import mailbox
from bookings.queries.calendars import meeting_file
from tests import cast
from tests.cast import NOW
from tests.integration.mailed import START, again, answer, booking, receive

__all__ = ["booking"]
pytestmark = pytest.mark.django_db
ORGANIZER = re.compile(r"^ORGANIZER(?:;[^:]*|;[^:]*\"[^\"]*\"[^:]*)*:mailto:(\S+)$", re.MULTILINE)


def organizers(meeting: Meeting) -> dict[int, set[str]]:
    """Every ORGANIZER that each recipient was told of a meeting."""
    told: dict[int, set[str]] = {}
    for message in OutboxMessage.objects.filter(meeting=meeting).exclude(calendar=""):
        (address,) = ORGANIZER.findall(message.calendar.replace("\r\n ", "").replace("\r\n", "\n"))
        told.setdefault(message.recipient_id, set()).add(address)
    return told


def moves_away(settings: Any) -> None:
    """The school has another domain from now on."""
    settings.ORGANIZER_EMAIL = "hello@harps.example"
    settings.REPLY_ADDRESS = settings.REPLY_ADDRESS and "answers+{key}@harps.example"


@pytest.mark.parametrize("address", ["", "lessons+{key}@rowanmere.example"])
def test_a_lesson_keeps_its_organizer(booking: Any, settings: Any, address: str) -> None:
    """Invited, moved, a wish refused, downloaded and cancelled, before and after the change: one
    ORGANIZER a recipient.
    """
    Meeting.objects.update(organizer=address or "lessons@rowanmere.example")
    OutboxMessage.objects.all().delete()
    settings.REPLY_ADDRESS = address
    noor = booking.student.user

    def moved(hours: int) -> None:
        act = lambda: move_slot(  # noqa: E731
            actor=noor, booking=again(booking), starts_at=START + timedelta(hours=hours), now=NOW
        )
        write(act, now=NOW)

    moved(1)
    moves_away(settings)
    moved(2)
    meeting = again(booking).meeting
    refused = notices.counter_refused(noor, meeting, starts_at=START, sequence=2, now=NOW)
    write(lambda: outbox.enqueue(refused, now=NOW), now=NOW)
    file = meeting_file(meeting, noor).decode().replace("\r\n ", "").replace("\r\n", "\n")
    write(lambda: cancel_slot(actor=noor, booking=again(booking), now=NOW), now=NOW)
    told = organizers(meeting)
    assert {len(addresses) for addresses in told.values()} == {1}
    assert set(ORGANIZER.findall(file)) == told[noor.pk]
    assert "harps" not in str(told)
    methods = OutboxMessage.objects.filter(recipient=noor).values_list("method", flat=True)
    assert {"REQUEST", "DECLINECOUNTER", "CANCEL"} <= set(methods)


def test_a_group_keeps_its_organizer(booking: Any, settings: Any) -> None:
    """Changed and called off after the school's address has changed; a meeting made then has the
    new one.
    """
    circle, admin = cast.make_offering("Circle", Kind.GROUP_MEETING, 60), cast.make_admin()
    wren = cast.make_instructor("Wren Hale")
    old = cast.make_meeting(circle, wren, START, places=4)
    write(lambda: outbox.enqueue(notices.meeting_made(old, now=NOW), now=NOW), now=NOW)
    moves_away(settings)
    new = cast.make_meeting(circle, wren, START + timedelta(days=1), places=4)
    write(lambda: outbox.enqueue(notices.meeting_made(new, now=NOW), now=NOW), now=NOW)
    write(lambda: change_meeting(actor=admin, meeting=old, title="Reels", now=NOW), now=NOW)
    write(lambda: call_off(actor=admin, meeting=old, why="Snow", now=NOW), now=NOW)
    assert organizers(old) == {wren.user_id: {mailbox(old, wren.user_id)}}
    assert organizers(new) == {wren.user_id: {mailbox(new, wren.user_id)}}
    assert "rowanmere" in mailbox(old, wren.user_id) and "harps" in mailbox(new, wren.user_id)


def test_an_answer_to_the_old_mailbox_is_heard(
    booking: Any, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Calendars go on answering there; the same key in an address of another form opens nothing."""
    moves_away(settings)
    monkeypatch.setattr(clock, "now", lambda: NOW)
    old = mailbox(booking.meeting, booking.student.user_id)
    receive(answer(booking, partstat="TENTATIVE", to=old.replace("lessons+", "x")), monkeypatch)
    assert Booking.objects.get().partstat == "ACCEPTED"
    receive(answer(booking, partstat="TENTATIVE", to=old), monkeypatch)
    assert Booking.objects.get().partstat == "TENTATIVE"
