"""Book, move and cancel a one-on-one. A booking and its meeting change together."""

from datetime import datetime

from accounts.models import Instructor, Student, User
from bookings import notices, outbox
from bookings.access import acts_as_school
from bookings.domain.errors import Refused
from bookings.domain.policy import check_allowance
from bookings.domain.proposed_times import decline_by
from bookings.domain.vocabulary import Kind, MeetingStatus, PartStat, Standing
from bookings.models import Booking, Meeting, MoveRequest, Offering, OwedLesson
from bookings.operations.audit import record
from bookings.operations.booking_state import (
    check_not_ended,
    current_booking,
    end_booking,
    why_cancelled,
)
from bookings.operations.consents import require_consent
from bookings.operations.intakes import IntakeText, check_hurts, store_intake
from bookings.operations.locks import hold_teachers, lock_instructors, lock_meetings, lock_students
from bookings.operations.making_up import made_up
from bookings.operations.meeting_state import mark_cancelled
from bookings.operations.moving import lock_lessons, move_lesson
from bookings.operations.owed_reminders import take_back_reminder
from bookings.operations.owed_state import owe_for
from bookings.operations.rooms import new_address
from bookings.operations.starts import AllowedStart, judge_start, write_at_start
from bookings.operations.versions import check_version


def book_slot(
    *,
    actor: User,
    student: Student,
    offering: Offering,
    instructor: Instructor,
    starts_at: datetime,
    intake: IntakeText | None = None,
    owed: OwedLesson | None = None,
    now: datetime,
) -> Booking:
    """Books a one-on-one at this start and writes its meeting, intake and invitations.

    The school books without lead time and beyond the open consultations, and the family may decline
    it for a day. `owed` is an owed lesson that this one makes up; what an instructor books makes up
    what is owed of its kind. Refused with the code of the first rule against it, in the order of
    domain.slots.check_start, and as `check_makes_up`.
    """
    check_is_bookable(offering)
    hold_teachers([instructor.pk], [student])
    locked = lock_students([student.pk])[student.pk]
    require_consent(locked, now=now)
    by_school = acts_as_school(actor, locked)
    owed = made_up(owed, actor, locked, offering, instructor, starts_at)
    start = judge_start(
        offering=offering,
        instructor=instructor,
        student=locked,
        starts_at=starts_at,
        now=now,
        by_school=by_school,
    )
    if offering.kind == Kind.CONSULTATION and not by_school and owed is None:
        check_allowance(start.student_time.open_consultations, start.policy.rules())
    until = decline_by(now, starts_at) if by_school else None
    booking = _write(offering, start, owed, actor=actor, until=until, now=now)
    _keep_intake(actor, booking, intake, now)
    record(actor=actor, verb="booked", thing=booking, now=now)
    outbox.enqueue(notices.booking_made(booking, now=now), now=now)
    return booking


def _keep_intake(actor: User, booking: Booking, intake: IntakeText | None, now: datetime) -> None:
    if intake is not None and not intake.is_empty:
        check_hurts(actor, booking.student, intake, now=now)
        store_intake(booking, intake, now=now)


def check_is_bookable(offering: Offering) -> None:
    """Refused("wrong-kind") for a group meeting and for an offering that is closed."""
    if not offering.is_one_on_one or not offering.is_open:
        raise Refused(
            "wrong-kind",
            "Choose a consultation or a private lesson; a group meeting is booked by its place.",
        )


def _write(
    offering: Offering,
    start: AllowedStart,
    owed: OwedLesson | None,
    *,
    actor: User,
    until: datetime | None,
    now: datetime,
) -> Booking:
    """The new meeting and its one booking, which may be declined `until` then."""
    if owed is not None:
        take_back_reminder(owed)
    meeting = Meeting(
        offering=offering,
        join_address=new_address(start.instructor.room),
        status=MeetingStatus.CONFIRMED,
    )
    booking = Booking(
        standing=Standing.HELD,
        partstat=PartStat.ACCEPTED,
        decline_by=until,
        makes_up=owed,
        assessment_id=start.student_time.heard_in,
    )
    return write_at_start(meeting, booking, start, actor=actor, now=now)


def move_slot(
    *,
    actor: User,
    booking: Booking,
    starts_at: datetime,
    instructor: Instructor | None = None,
    version: int | None = None,
    answering: MoveRequest | None = None,
    now: datetime,
) -> Booking:
    """Moves a one-on-one to another start, with the same or another instructor.

    The new start is judged by the policy in force, the deadline by the policy of the booking. The
    deadline does not bind the school, whose move may be declined unless `answering` a request.
    """
    taught_by = booking.meeting.instructor
    (lesson,) = lock_lessons([booking], instructor or taught_by)
    check_version(lesson, version)
    old_starts_at = lesson.starts_at
    move_lesson(
        lesson,
        starts_at,
        instructor or taught_by,
        taught_by=taught_by,
        actor=actor,
        answering=answering,
        now=now,
    )
    messages = notices.booking_moved(
        lesson, old_starts_at=old_starts_at, old_instructor=taught_by, now=now
    )
    outbox.enqueue(messages, now=now)
    return lesson


def cancel_slot(
    *, actor: User, booking: Booking, version: int | None = None, now: datetime
) -> Booking:
    """Cancels a one-on-one with its meeting.

    After the deadline of the policy under which it was made it counts as cancelled late.
    """
    lock_instructors([booking.meeting.instructor_id])
    meeting = lock_meetings([booking.meeting_id])[booking.meeting_id]
    lock_students([booking.student_id])
    current = current_booking(booking, version=version)
    if not meeting.offering.is_one_on_one:
        raise Refused(
            "wrong-kind", "A place in a group meeting is given back; the meeting itself stays."
        )
    check_not_ended(current, now)
    current.meeting = meeting
    mark_cancelled(meeting, why="", now=now)
    meeting.taken = 0
    meeting.save()
    end_booking(current, why=why_cancelled(current, now), now=now)
    record(actor=actor, verb="cancelled", thing=current, fields=["standing"], now=now)
    owed = owe_for(current, actor=actor, now=now)
    outbox.enqueue(notices.booking_ended(current, owed=owed, now=now), now=now)
    return current
