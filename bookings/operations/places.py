"""Places in group meetings: book one, leave it, move it to another meeting."""

from datetime import datetime

from accounts.models import Student, User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Ended, PlaceKind, Standing
from bookings.models import Booking, Meeting
from bookings.operations.audit import record
from bookings.operations.booking_state import (
    check_not_ended,
    current_booking,
    end_booking,
    why_cancelled,
)
from bookings.operations.intakes import carry_intake
from bookings.operations.joining import check_may_join, lock_queue, lock_to_join
from bookings.operations.locks import lock_meeting, lock_meetings
from bookings.operations.meeting_state import count_place
from bookings.operations.offers import end_offer
from bookings.operations.queues import (
    end_waiting,
    new_booking,
    offer_next,
    stop_listening,
    waiting_places_of,
)
from bookings.queries.policies import policy_in_force
from bookings.queries.waiting import is_anybodys


def book_place(
    *,
    actor: User,
    student: Student,
    meeting: Meeting,
    place_kind: PlaceKind,
    reason: str = "",
    ahead_of_queue: bool = False,
    meeting_version: int | None = None,
    is_told: bool = True,
    now: datetime,
) -> Booking:
    """Books a place in a group meeting. `reason` is an admin's, who adds somebody.

    Without `is_told` nobody is told of it yet: the caller tells of many places at once.
    `ahead_of_queue` gives an admin's free place to a student although others wait; those keep their
    position. It needs a reason. Refused: "no-place" where none is free to this student, "stale" by
    `meeting_version`, and as `check_may_join`.
    """
    if ahead_of_queue:
        _check_exception(actor, reason)
    locked, locked_student = lock_to_join(meeting, student, meeting_version)
    check_may_join(locked_student, locked, place_kind, actor=actor, now=now)
    passes_queue = _check_place_is_free(locked, place_kind, ahead_of_queue, now=now)
    freed = stop_listening(locked, locked_student, now) if place_kind == PlaceKind.PLAYER else []
    policy = policy_in_force(now)
    booking = new_booking(
        locked, locked_student, place_kind, Standing.HELD, policy, actor=actor, now=now
    )
    end_waiting(waiting_places_of(locked_student, locked, place_kind), Ended.PLACED, now)
    verb = "booked ahead of the queue" if passes_queue else "booked"
    record(actor=actor, verb=verb, thing=booking, reason=reason, now=now)
    told = notices.booking_made(booking, now=now) if is_told else []
    outbox.enqueue(told + freed, now=now)
    return booking


def _check_exception(actor: User, reason: str) -> None:
    if not (actor.is_staff and reason.strip()):
        raise Refused(
            "invalid",
            "Only an admin places somebody ahead of those who wait, and says why.",
            field="reason",
        )


def _check_place_is_free(
    meeting: Meeting, place_kind: PlaceKind, ahead_of_queue: bool, *, now: datetime
) -> bool:
    """Whether the free place passes over somebody who waits. Refused("no-place") without one."""
    if meeting.is_full_for(place_kind):
        raise Refused(
            "no-place",
            "Every place is taken or offered, so nobody can be put ahead of the waiting list. Give "
            "them the place of somebody who leaves, or wait until an offer is answered."
            if ahead_of_queue
            else "Every place is taken. Join the waiting list: a freed place is offered to the "
            "first in line.",
        )
    passes_queue = not is_anybodys(meeting, place_kind, now=now)
    if passes_queue and not ahead_of_queue:
        raise Refused("no-place", "The free place is kept for those on the waiting list. Join it.")
    return passes_queue


def leave_place(
    *,
    actor: User,
    booking: Booking,
    version: int | None = None,
    meeting_version: int | None = None,
    reason: str = "",
    said: str = "",
    passes_on: bool = True,
    now: datetime,
) -> Booking:
    """Gives a place in a group meeting back. It is offered to the first in line at once.

    `reason` is an admin's, for the record. `said` is a sentence for those who are told.
    Without `passes_on` a held place is not offered: the caller gives it in the same transaction.
    """
    meeting = lock_meeting(booking.meeting_id, version=meeting_version)
    if meeting.offering.is_one_on_one:
        raise Refused(
            "wrong-kind",
            "A one-on-one is cancelled with its meeting, by its booking, or called off.",
        )
    lock_queue(meeting, booking.student_id)
    current = current_booking(booking, version=version)
    is_removed = reason != ""
    if current.standing == Standing.OFFERED:
        why = Ended.REMOVED if is_removed else Ended.DECLINED
        return end_offer(actor, current, meeting, why, now, reason=reason)
    check_not_ended(current, now)
    current.meeting, place_kind = meeting, PlaceKind(current.place_kind)
    why = Ended.REMOVED if is_removed else why_cancelled(current, now)
    end_booking(current, why=why, now=now)
    count_place(meeting, place_kind, -1)
    verb = "removed" if is_removed else "cancelled"
    record(actor=actor, verb=verb, thing=current, fields=["standing"], reason=reason, now=now)
    messages = notices.booking_ended(current, said=said, now=now)
    if passes_on:
        messages += offer_next(meeting, place_kind, now=now)
    outbox.enqueue(messages, now=now)
    return current


def move_place(
    *, actor: User, booking: Booking, meeting: Meeting, version: int | None = None, now: datetime
) -> Booking:
    """Leaves one group meeting and joins `meeting`, both or neither.

    Refused: "already-ended", "notice-passed", "wrong-kind", "already-booked", "stale", and as
    `book_place`.
    """
    lock_meetings([booking.meeting_id, meeting.pk])
    current = current_booking(booking, version=version)
    if current.standing != Standing.HELD:
        raise Refused("already-ended", "Only a place that is yours can move.")
    if why_cancelled(current, now) is Ended.CANCELLED_LATE:
        raise Refused(
            "notice-passed",
            "The cancellation deadline has passed, so this place can no longer be moved. "
            "You can still cancel it.",
        )
    if meeting.offering_id != current.meeting.offering_id or meeting.offering.is_one_on_one:
        raise Refused("wrong-kind", "Choose another meeting of the same offering.")
    if meeting.pk == current.meeting_id:
        raise Refused(
            "already-booked",
            "The student already has a place in this meeting. Choose another one.",
        )
    leave_place(actor=actor, booking=current, now=now)
    moved = book_place(
        actor=actor,
        student=current.student,
        meeting=meeting,
        place_kind=PlaceKind(current.place_kind),
        now=now,
    )
    carry_intake(current, moved)
    return moved
