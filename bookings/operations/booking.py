"""Book, move and cancel a one-on-one. A booking and its meeting change together."""

from datetime import datetime

from accounts.models import Instructor, Student, User
from bookings import notices, outbox
from bookings.access import acts_as_school
from bookings.domain.errors import Refused
from bookings.domain.policy import check_allowance
from bookings.domain.proposed_times import decline_by
from bookings.domain.vocabulary import Kind, MeetingStatus, PartStat, PlaceKind, Standing
from bookings.models import Booking, Meeting, MoveRequest, Offering
from bookings.operations.audit import record
from bookings.operations.booking_state import (
    check_not_ended,
    check_notice,
    close_move_requests,
    current_booking,
    end_booking,
    why_cancelled,
)
from bookings.operations.consents import require_consent
from bookings.operations.intakes import IntakeText, check_hurts, store_intake
from bookings.operations.locks import hold_teachers, lock_instructors, lock_meetings, lock_students
from bookings.operations.meeting_state import mark_cancelled
from bookings.operations.rooms import new_address
from bookings.operations.starts import AllowedStart, judge_start, move_to_start, put_at_start


def book_slot(
    *,
    actor: User,
    student: Student,
    offering: Offering,
    instructor: Instructor,
    starts_at: datetime,
    intake: IntakeText | None = None,
    now: datetime,
) -> Booking:
    """Books a one-on-one at this start and writes its meeting, intake and invitations.

    The school books without lead time and beyond the open consultations, and the family may decline
    it for a day. Refused with the code of the first rule against it, in the order of
    domain.slots.check_start.
    """
    check_is_bookable(offering)
    hold_teachers([instructor.pk], [student])
    locked = lock_students([student.pk])[student.pk]
    require_consent(locked, now=now)
    by_school = acts_as_school(actor, locked)
    start = judge_start(
        offering=offering,
        instructor=instructor,
        student=locked,
        starts_at=starts_at,
        now=now,
        by_school=by_school,
    )
    if offering.kind == Kind.CONSULTATION and not by_school:
        check_allowance(start.student_time.open_consultations, start.policy.rules())
    until = decline_by(now, starts_at) if by_school else None
    booking = _write(offering, start, actor=actor, until=until, now=now)
    if intake is not None and not intake.is_empty:
        check_hurts(actor, locked, intake, now=now)
        store_intake(booking, intake, now=now)
    record(actor=actor, verb="booked", thing=booking, now=now)
    outbox.enqueue(notices.booking_made(booking, now=now), now=now)
    return booking


def check_is_bookable(offering: Offering) -> None:
    """Refused("wrong-kind") for a group meeting and for an offering that is closed."""
    if not offering.is_one_on_one or not offering.is_open:
        raise Refused(
            "wrong-kind",
            "Choose a consultation or a private lesson; a group meeting is booked by its place.",
        )


def _write(
    offering: Offering, start: AllowedStart, *, actor: User, until: datetime | None, now: datetime
) -> Booking:
    """The new meeting and its one booking, which may be declined `until` then."""
    meeting = Meeting(
        offering=offering,
        made_at=now,
        join_address=new_address(start.instructor.room),
        status=MeetingStatus.CONFIRMED,
        places=1,
        taken=1,
    )
    put_at_start(meeting, start, now=now)
    meeting.save(force_insert=True)
    return Booking.objects.create(
        meeting=meeting,
        student=start.student,
        place_kind=PlaceKind.PLAYER,
        standing=Standing.HELD,
        starts_at=meeting.starts_at,
        ends_at=meeting.ends_at,
        policy=start.policy,
        booked_by=actor,
        booked_at=now,
        partstat=PartStat.ACCEPTED,
        decline_by=until,
        assessment_id=start.student_time.heard_in,
    )


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
    old_instructor = booking.meeting.instructor
    new_instructor = instructor or old_instructor
    hold_teachers([old_instructor.pk, new_instructor.pk], [booking.student])
    meeting = lock_meetings([booking.meeting_id])[booking.meeting_id]
    student = lock_students([booking.student_id])[booking.student_id]
    current = current_booking(booking, version=version)
    _check_moves(current, meeting, old_instructor)
    by_school = acts_as_school(actor, student)
    _check_in_time(current, is_bound=not by_school and answering is None, now=now)
    start = judge_start(
        offering=meeting.offering,
        instructor=new_instructor,
        student=student,
        starts_at=starts_at,
        now=now,
        moving=meeting,
        by_school=by_school,
    )
    old_starts_at, is_the_schools = meeting.starts_at, by_school and answering is None
    current.decline_by = decline_by(now, starts_at) if is_the_schools else None
    move_to_start(current, meeting, start, now=now)
    close_move_requests(current, answering=answering, now=now)
    record(actor=actor, verb="moved", thing=current, fields=["starts_at", "instructor"], now=now)
    _tell_moved(current, old_starts_at, old_instructor, now)
    return current


def _tell_moved(
    booking: Booking, old_starts_at: datetime, old_instructor: Instructor, now: datetime
) -> None:
    messages = notices.booking_moved(
        booking, old_starts_at=old_starts_at, old_instructor=old_instructor, now=now
    )
    outbox.enqueue(messages, now=now)


def _check_moves(booking: Booking, meeting: Meeting, instructor: Instructor) -> None:
    """`instructor` is the one of whom the caller read that they teach this meeting."""
    if not meeting.offering.is_one_on_one:
        raise Refused(
            "wrong-kind",
            "A place in a group meeting moves to another meeting, not to another time.",
        )
    if booking.standing != Standing.HELD or meeting.is_cancelled:
        raise Refused("already-ended", "This booking has ended; book a new time instead.")
    if meeting.instructor_id != instructor.pk:
        raise Refused(
            "conflict",
            "This lesson has just moved to another instructor. Read it again, then decide.",
        )


def _check_in_time(booking: Booking, *, is_bound: bool, now: datetime) -> None:
    """The cancellation deadline binds a family, unless the instructor grants their request."""
    if is_bound:
        check_notice(booking, now)
    else:
        check_not_ended(booking, now)


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
    outbox.enqueue(notices.booking_ended(current, now=now), now=now)
    return current
