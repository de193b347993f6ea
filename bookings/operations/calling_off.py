"""Calling a meeting off: everybody in it is told, and their calendars show it as cancelled."""

from collections.abc import Collection, Iterable, Sequence
from datetime import datetime

from django.db.models import QuerySet

from accounts.models import User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Ended
from bookings.models import Booking, Meeting, OwedLesson, SentSequence, WaitingPlace
from bookings.operations.audit import record
from bookings.operations.booking_state import end_booking
from bookings.operations.locks import lock_instructors, lock_meeting, lock_meetings, lock_students
from bookings.operations.meeting_state import mark_cancelled
from bookings.operations.owed_state import owe_for, release_promise
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
    *,
    actor: User | None,
    meetings: Iterable[Meeting],
    why: str,
    is_owed: bool = True,
    now: datetime,
) -> list[Meeting]:
    """Calls off several meetings, whose instructors the caller has locked.

    Leaves out and does not return those that have been called off meanwhile. `is_owed` is False
    where they end because a student leaves; what a make-up lesson stood for is owed all the same.
    `actor` is None where their time to decide has passed with too few players.
    """
    locked = lock_meetings([meeting.pk for meeting in meetings]).values()
    live = [meeting for meeting in locked if not meeting.is_cancelled]
    _call_off(live, actor, why, now, is_owed=is_owed)
    return live


def _call_off(
    meetings: list[Meeting], actor: User | None, why: str, now: datetime, *, is_owed: bool = True
) -> None:
    booked = {meeting.pk: live_bookings(meeting) for meeting in meetings}
    lock_students([booking.student_id for bookings in booked.values() for booking in bookings])
    for meeting in meetings:
        ended = end_meeting(
            meeting, booked[meeting.pk], actor=actor, why=why, is_owed=is_owed, now=now
        )
        messages = notices.called_off(
            meeting, ended.bookings, owed=ended.owed, waiting=ended.waiting, now=now
        )
        outbox.enqueue(messages, now=now, shown_to=once_invited([meeting]))


def end_meeting(
    meeting: Meeting,
    bookings: Sequence[Booking],
    *,
    actor: User | None,
    why: str,
    is_owed: bool = True,
    now: datetime,
) -> notices.CalledOff:
    """Ends a locked meeting with these live bookings and its waiting places; tells nobody.

    `is_owed` as in `call_off_all`. The caller has locked the students.
    """
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
    owed = _owe_for_all(bookings, actor, now, is_owed=is_owed)
    return notices.CalledOff(meeting, bookings, waiting, owed)


def _owe_for_all(
    bookings: Iterable[Booking], actor: User | None, now: datetime, *, is_owed: bool
) -> list[OwedLesson]:
    owed = []
    for booking in bookings:
        if is_owed or booking.makes_up_id is not None:
            row = owe_for(booking, actor=actor, now=now)
            owed += [row] if row is not None else []
        else:
            release_promise(booking)
    return owed


def live_bookings(meeting: Meeting) -> list[Booking]:
    """The held and offered places of a meeting, by id."""
    return list(Booking.objects.in_meetings([meeting]).live().with_details().order_by("pk"))


def once_invited(meetings: Collection[Meeting]) -> QuerySet[SentSequence, int]:
    """The ids of everybody who was ever invited to one of these.

    Their feeds follow a meeting even after they have left it, because a feed shows such a meeting
    as cancelled for a while.
    """
    return SentSequence.objects.filter(meeting__in=meetings).values_list("recipient_id", flat=True)
