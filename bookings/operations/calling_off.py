"""Calling a meeting off: everybody in it is told, and their calendars show it as cancelled."""

from collections.abc import Iterable
from datetime import datetime

from django.db.models import QuerySet

from accounts.models import User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Ended
from bookings.models import Booking, Meeting, SentSequence, WaitingPlace
from bookings.operations.audit import record
from bookings.operations.booking_state import end_booking
from bookings.operations.locks import lock_instructors, lock_meeting, lock_meetings, lock_students
from bookings.operations.meeting_state import mark_cancelled
from bookings.operations.queues import end_waiting


def call_off(
    *, actor: User, meeting: Meeting, why: str, version: int | None = None, now: datetime
) -> Meeting:
    """Calls a meeting off and tells everybody who is booked, offered a place or waiting.

    Refused: "already-ended" where it is called off already, "past" once it has begun, "stale".
    """
    lock_instructors([meeting.instructor_id])
    current = lock_meeting(meeting.pk, version=version)
    if current.is_cancelled:
        raise Refused("already-ended", "This meeting has already been called off.")
    if current.starts_at <= now:
        raise Refused("past", "The meeting has begun; mark in the register what happened.")
    _call_off([current], actor, why, now)
    return current


def call_off_all(
    *, actor: User, meetings: Iterable[Meeting], why: str, now: datetime
) -> list[Meeting]:
    """Calls off several meetings, whose instructors the caller has locked.

    Leaves out and does not return those that have been called off meanwhile.
    """
    locked = lock_meetings([meeting.pk for meeting in meetings]).values()
    live = [meeting for meeting in locked if not meeting.is_cancelled]
    _call_off(live, actor, why, now)
    return live


def _call_off(meetings: list[Meeting], actor: User, why: str, now: datetime) -> None:
    booked = {meeting.pk: live_bookings(meeting) for meeting in meetings}
    lock_students([booking.student_id for bookings in booked.values() for booking in bookings])
    for meeting in meetings:
        bookings = booked[meeting.pk]
        queue = WaitingPlace.objects.for_meetings([meeting]).waiting()
        waiting = list(queue.select_related("student__user"))
        mark_cancelled(meeting, why=why, now=now)
        meeting.taken = meeting.listeners_taken = 0
        for booking in bookings:
            booking.meeting = meeting
            end_booking(booking, why=Ended.CALLED_OFF, now=now)
        end_waiting(queue, Ended.CALLED_OFF, now)
        meeting.save()
        record(actor=actor, verb="called off", thing=meeting, fields=["status"], now=now)
        messages = notices.called_off(meeting, bookings, waiting=waiting, now=now)
        outbox.enqueue(messages, now=now, shown_to=once_invited(meeting))


def live_bookings(meeting: Meeting) -> list[Booking]:
    """The held and offered places of a meeting, by id."""
    return list(Booking.objects.in_meetings([meeting]).live().with_details().order_by("pk"))


def once_invited(meeting: Meeting) -> QuerySet[SentSequence, int]:
    """The ids of everybody who was ever invited.

    Their feeds follow the meeting even after they have left it, because a feed shows such a meeting
    as cancelled for a while.
    """
    return SentSequence.objects.filter(meeting=meeting).values_list("recipient_id", flat=True)
