"""A lesson passes to a substitute: the same meeting, at the same time, with another instructor."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from accounts.models import Instructor, User
from bookings import notices
from bookings.models import Booking, LoadAllowance
from bookings.operations.audit import record
from bookings.operations.booking_state import close_move_requests
from bookings.operations.locks import hold_teachers, lock_meetings, lock_students
from bookings.operations.meeting_state import set_period
from bookings.operations.rooms import new_address
from bookings.queries.teaching import zone_of_hours


@dataclass(frozen=True, slots=True)
class GivenLesson:
    """A lesson, who gives it up and who takes it; `has_yes` by the taker's own yes."""

    lesson: Booking
    before: Instructor
    to: Instructor
    has_yes: bool


def lock_handovers(rows: Sequence[Mapping[str, Any]]) -> dict[int, Booking]:
    """The lessons of these handovers by meeting, as they stand under the locks.

    Locked are both instructors of each, the meetings and the students. One that is held by nobody
    any more is left out.
    """
    ids = [row["meeting"] for row in rows]
    held = Booking.objects.held().in_meetings(ids).with_details()
    students = [booking.student for booking in held]
    hold_teachers({pk for row in rows for pk in (row["from"], row["to"])}, students)
    meetings = lock_meetings(ids)
    lock_students([student.pk for student in students])
    found = {booking.meeting_id: booking for booking in held.all()}
    for pk, booking in found.items():
        booking.meeting = meetings[pk]
    return found


def hand_lesson(given: GivenLesson, *, actor: User, now: datetime) -> notices.Covered:
    """Writes the handover of a lesson from `lock_handovers` that nothing stands against.

    The meeting keeps its UID and its time, SEQUENCE rises, and the room is the substitute's. The
    family may decline it free of charge until it begins.
    """
    lesson, meeting = given.lesson, given.lesson.meeting
    meeting.instructor, meeting.join_address = given.to, new_address(given.to.room)
    zone = zone_of_hours(given.to)
    set_period(meeting, meeting.starts_at, meeting.ends_at, meeting.held_until, zone)
    meeting.changed_at = now
    meeting.sequence += 1
    meeting.version += 1
    meeting.save()
    lesson.decline_by = lesson.starts_at
    lesson.version += 1
    lesson.save(update_fields=["decline_by", "version"])
    close_move_requests(lesson, now=now)
    if given.has_yes:
        LoadAllowance.objects.get_or_create(
            instructor=given.to,
            starts_at=lesson.starts_at,
            defaults={"allowed_by": given.to.user, "allowed_at": now},
        )
    record(actor=actor, verb="covered", thing=lesson, fields=["instructor"], now=now)
    return notices.Covered(lesson, given.before)
