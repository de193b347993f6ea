"""Taking one of the proposed times: it is booked, or the lesson moves there, and the others end."""

from datetime import datetime

from accounts.models import User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Ended, MeetingStatus, PartStat, Standing
from bookings.models import Booking, ProposedTimes
from bookings.operations.audit import record
from bookings.operations.booking_state import check_not_ended, close_move_requests, current_booking
from bookings.operations.consents import check_minor_hours, require_consent
from bookings.operations.joining import check_is_free
from bookings.operations.locks import lock_meetings
from bookings.operations.making_up import check_moves_in_time
from bookings.operations.meeting_state import set_period
from bookings.operations.proposed_state import end_proposal
from bookings.operations.proposed_times import lock_proposal
from bookings.operations.rooms import new_address
from bookings.operations.starts import AllowedStart, move_to_start
from bookings.queries.notes import latest_released
from bookings.queries.owed import next_to_make_up
from bookings.queries.policies import policy_in_force
from bookings.queries.student_times import student_time
from bookings.queries.teaching import zone_of_hours


def take_time(
    *,
    actor: User,
    proposal: ProposedTimes,
    booking_id: int,
    version: int | None = None,
    now: datetime,
) -> Booking:
    """Takes one of the proposed times, and ends the others; returns the booking that stands.

    A new lesson makes up what the school owes of its kind, if anything.

    Refused: "not-found" for a booking that is no time of it, as `lock_proposal`, "past", and as
    `require_consent`, `check_minor_hours` and `check_is_free`: all three may have changed.
    """
    current = lock_proposal(proposal, version=version, now=now)
    time = Booking.objects.with_details().filter(pk=booking_id, proposed=current).first()
    if time is None:
        raise Refused("not-found", "That is none of the proposed times.", field="booking")
    time.student, request = current.student, current.move_request
    moving = request.booking.meeting_id if request is not None else None
    require_consent(current.student, now=now)
    check_minor_hours(current.student, time.meeting, policy_in_force(now))
    check_is_free(current.student, time.meeting, moving=moving)
    if request is None:
        taken = _book(time, current, actor=actor, now=now)
        messages = notices.booking_made(taken, now=now)
    else:
        lesson = current_booking(request.booking, version=None)
        old_starts_at = lesson.starts_at
        taken = _move(lesson, time, current, now=now)
        messages = notices.booking_moved(
            taken, old_starts_at=old_starts_at, old_instructor=current.instructor, now=now
        )
    verb = "took a time" if request is None else "moved to a proposed time"
    record(actor=actor, verb=verb, thing=taken, fields=["standing"], now=now)
    outbox.enqueue(messages, now=now)
    return taken


def _book(time: Booking, proposal: ProposedTimes, *, actor: User, now: datetime) -> Booking:
    """Makes the proposed time a lesson. From here on it is in calendars."""
    meeting, instructor = time.meeting, proposal.instructor
    # The wall time is promised now, by the zone rules of now.
    zone = zone_of_hours(instructor)
    set_period(meeting, meeting.starts_at, meeting.ends_at, meeting.held_until, zone)
    meeting.status, meeting.is_proposed = MeetingStatus.CONFIRMED, False
    meeting.instructor, meeting.join_address = instructor, new_address(instructor.room)
    meeting.version += 1
    meeting.changed_at = now
    meeting.save()
    time.standing, time.partstat, time.answer_by = Standing.HELD, PartStat.ACCEPTED, None
    time.booked_by, time.booked_at = actor, now
    time.assessment = latest_released(proposal.student)
    time.makes_up = next_to_make_up(proposal.student, proposal.offering, time.starts_at)
    time.version += 1
    time.save()
    end_proposal(proposal, why=Ended.PLACED, times_why=Ended.NOT_CHOSEN, now=now)
    return time


def _move(lesson: Booking, time: Booking, proposal: ProposedTimes, *, now: datetime) -> Booking:
    """Moves the lesson to the proposed time, which is freed for it."""
    check_not_ended(lesson, now)
    check_moves_in_time(lesson, time.starts_at)
    end_proposal(proposal, why=Ended.PLACED, times_why=Ended.NOT_CHOSEN, now=now)
    Booking.objects.filter(pk=time.pk).update(ended_why=Ended.MOVED)
    meeting = lock_meetings([lesson.meeting_id])[lesson.meeting_id]
    start = AllowedStart(
        instructor=proposal.instructor,
        student=proposal.student,
        policy=lesson.policy,
        starts_at=time.starts_at,
        ends_at=time.ends_at,
        held_until=time.meeting.held_until,
        student_time=student_time(proposal.student, time.starts_at, time.ends_at),
    )
    lesson.decline_by = None
    move_to_start(lesson, meeting, start, now=now)
    close_move_requests(lesson, now=now)
    return lesson
