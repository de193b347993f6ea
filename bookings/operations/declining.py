"""Declining a lesson that the school has booked or moved: free of charge, for a day at most."""

from datetime import datetime

from accounts.models import User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Ended
from bookings.models import Booking
from bookings.operations.audit import record
from bookings.operations.booking_state import check_not_ended, current_booking, end_booking
from bookings.operations.locks import lock_instructors, lock_meetings, lock_students
from bookings.operations.meeting_state import mark_cancelled
from bookings.operations.owed_state import owe_for


def decline_booking(
    *, actor: User, booking: Booking, version: int | None = None, now: datetime
) -> Booking:
    """Ends a lesson that the school booked or moved, with its meeting; nobody is charged.

    Refused: "stale", "already-ended", "past", "notice-passed" where it cannot be declined or the
    time to decline is over.
    """
    lock_instructors([booking.meeting.instructor_id])
    meeting = lock_meetings([booking.meeting_id])[booking.meeting_id]
    lock_students([booking.student_id])
    current = current_booking(booking, version=version)
    check_not_ended(current, now)
    if current.decline_by is None or now >= current.decline_by:
        raise Refused(
            "notice-passed",
            "This lesson can no longer be declined. You can still cancel it.",
        )
    current.meeting = meeting
    mark_cancelled(meeting, why="", now=now)
    meeting.taken = 0
    meeting.save()
    end_booking(current, why=Ended.DECLINED, now=now)
    record(actor=actor, verb="declined", thing=current, fields=["standing"], now=now)
    owed = owe_for(current, actor=actor, now=now)
    outbox.enqueue(notices.booking_ended(current, owed=owed, now=now), now=now)
    return current
