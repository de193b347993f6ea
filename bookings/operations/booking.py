"""Book, cancel and move a one-on-one; write what the instructor should know before it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from accounts.models import Instructor, Student, User
from bookings import notices, outbox
from bookings.domain import policy as rules
from bookings.domain.errors import Refused
from bookings.domain.slots import StudentTime, check_start
from bookings.domain.vocabulary import Ended, Kind, MeetingStatus, PartStat, PlaceKind, Standing
from bookings.domain.zones import TZDATA_VERSION, zone
from bookings.models import Booking, Intake, Meeting, MoveRequest, Offering, StudioPolicy
from bookings.operations.audit import record
from bookings.operations.consents import check_consent
from bookings.operations.locks import hold_teachers, lock_instructors, lock_meetings, lock_students
from bookings.queries.slots import Found
from bookings.queries.teaching import (
    instructors_for,
    instructors_time,
    offering_rules,
    policy_in_force,
    student_time,
    zone_of_hours,
)

_AROUND = timedelta(days=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class IntakeText:
    """What a student writes before: up to three questions, the most pressing first, pieces in hand, recordings, the obstacle."""

    questions: Sequence[str] = ()
    pieces: str = ""
    recordings: Sequence[str] = ()
    obstacle: str = ""

    @property
    def is_empty(self) -> bool:
        return not (self.questions or self.pieces or self.recordings or self.obstacle)


@dataclass(frozen=True, slots=True)
class _Fit:
    """A start that all rules let through, with what the rows need; the instructor as read under the locks."""

    instructor: Instructor
    student: Student
    policy: StudioPolicy
    ends_at: datetime
    held_until: datetime
    student_time: StudentTime


def book_slot(
    *,
    actor: User,
    student: Student,
    offering: Offering,
    instructor: Instructor,
    starts_at: datetime,
    intake: IntakeText | None = None,
    seen: Found | None = None,
    now: datetime,
) -> Booking:
    """A one-on-one at that start: meeting, booking, intake, invitations.

    Refused with the code of the first rule that stands against it; see domain.slots.check_start for their order. A caller
    to whom the time looks taken hands over what was `seen` around it, which is judged without locks first: of a hundred
    who want one time most come too late, and a refusal is true as soon as it is read, so they do not wait for each other.
    """
    if not offering.is_one_on_one or not offering.is_open:
        raise Refused(
            "wrong-kind",
            "Choose a consultation or a private lesson; a group meeting is booked by its place.",
        )
    if seen is not None:
        check_consent(student, now=now)
        _check_seen(seen, offering, instructor, starts_at, now)
    hold_teachers([instructor.pk], [student])
    her = lock_students([student.pk])[student.pk]
    check_consent(her, now=now)
    fit = _judge(
        offering=offering, instructor=instructor, student=her, starts_at=starts_at, now=now
    )
    if offering.kind == Kind.CONSULTATION:
        rules.check_allowance(fit.student_time.open_consultations, fit.policy.rules())
    meeting = Meeting(
        offering=offering,
        made_at=now,
        join_address=fit.instructor.room,
        status=MeetingStatus.CONFIRMED,
        places=1,
        taken=1,
    )
    _place_in_time(meeting, fit, starts_at, now=now)
    meeting.save(force_insert=True)
    booking = Booking.objects.create(
        meeting=meeting,
        student=her,
        place_kind=PlaceKind.PLAYER,
        standing=Standing.HELD,
        starts_at=meeting.starts_at,
        ends_at=meeting.ends_at,
        policy=fit.policy,
        booked_by=actor,
        booked_at=now,
        partstat=PartStat.ACCEPTED,
        assessment_id=fit.student_time.heard_in,
    )
    if intake is not None and not intake.is_empty:
        _keep_intake(booking, intake, now=now)
    record(actor=actor, verb="booked", thing=booking, now=now)
    outbox.enqueue(notices.booking_made(booking, now=now), now=now)
    return booking


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
    """The same one-on-one at another start, with the same or another instructor: same UID, higher SEQUENCE.

    The notice is judged by the policy the booking was made under, the new start by the one in force. An open request to move
    closes, but the one that this move is `answering`: whose time the notice guards has said yes, so it stands in nobody's way.
    """
    old_instructor = booking.meeting.instructor
    new_instructor = instructor or old_instructor
    hold_teachers([old_instructor.pk, new_instructor.pk], [booking.student])
    meeting = lock_meetings([booking.meeting_id])[booking.meeting_id]
    her = lock_students([booking.student_id])[booking.student_id]
    current = fresh(booking, version=version)
    if not meeting.offering.is_one_on_one:
        raise Refused(
            "wrong-kind",
            "A place in a group meeting moves to another meeting, not to another time.",
        )
    if current.standing != Standing.HELD or meeting.is_cancelled:
        raise Refused("already-ended", "This booking has ended; book a new time instead.")
    if meeting.instructor_id != old_instructor.pk:
        raise Refused(
            "conflict",
            "This lesson has just moved to another instructor. Read it again, then decide.",
        )
    if answering is None:
        check_notice(current, now)
    else:
        check_not_ended(current, now)
    fit = _judge(
        offering=meeting.offering,
        instructor=new_instructor,
        student=her,
        starts_at=starts_at,
        now=now,
        moving=meeting,
    )
    old_starts_at = meeting.starts_at
    if new_instructor.pk != old_instructor.pk:
        meeting.join_address = fit.instructor.room
    _place_in_time(meeting, fit, starts_at, now=now)
    meeting.sequence += 1
    meeting.version += 1
    meeting.save()
    current.meeting, current.student = meeting, her
    current.starts_at, current.ends_at = meeting.starts_at, meeting.ends_at
    current.is_flagged = False
    current.version += 1
    current.save(update_fields=["starts_at", "ends_at", "is_flagged", "version"])
    _close_move_requests(current, answering=answering, now=now)
    record(actor=actor, verb="moved", thing=current, fields=["starts_at", "instructor"], now=now)
    outbox.enqueue(
        notices.booking_moved(
            current, old_starts_at=old_starts_at, old_instructor=old_instructor, now=now
        ),
        now=now,
    )
    return current


def cancel_slot(
    *, actor: User, booking: Booking, version: int | None = None, now: datetime
) -> Booking:
    """Ends a one-on-one with its meeting. Late is allowed and recorded as late, by the policy the booking was made under."""
    lock_instructors([booking.meeting.instructor_id])
    meeting = lock_meetings([booking.meeting_id])[booking.meeting_id]
    lock_students([booking.student_id])
    current = fresh(booking, version=version)
    if not meeting.offering.is_one_on_one:
        raise Refused(
            "wrong-kind", "A place in a group meeting is given back; the meeting itself stays."
        )
    check_not_ended(current, now)
    current.meeting = meeting
    cancel_meeting(meeting, why="", now=now)
    meeting.taken = 0
    meeting.save()
    end(current, why=why_cancelled(current, now), now=now)
    record(actor=actor, verb="cancelled", thing=current, fields=["standing"], now=now)
    outbox.enqueue(notices.booking_ended(current, now=now), now=now)
    return current


def write_intake(
    *, actor: User, booking: Booking, intake: IntakeText, version: int | None = None, now: datetime
) -> Booking:
    """What the student writes before; a late one is taken too, until the meeting starts."""
    lock_meetings([booking.meeting_id])
    current = fresh(booking, version=version)
    if not current.is_live or current.starts_at <= now:
        raise Refused(
            "already-ended",
            "The meeting has started or the booking has ended; bring your questions to the next one.",
        )
    if intake == written_intake(current):
        return current
    _keep_intake(current, intake, now=now)
    current.version += 1
    current.save(update_fields=["version"])
    record(actor=actor, verb="wrote intake", thing=current, fields=["intake"], now=now)
    return current


def _check_seen(
    seen: Found, offering: Offering, instructor: Instructor, starts_at: datetime, now: datetime
) -> None:
    """Every rule on one start, as it was seen in a search around it; says nothing where she was not in it."""
    if instructor.pk in seen.times:
        asked = offering_rules(offering, seen.policy)
        check_start(starts_at, asked, seen.times[instructor.pk], seen.student, seen.policy, now)


def _judge(
    *,
    offering: Offering,
    instructor: Instructor,
    student: Student,
    starts_at: datetime,
    now: datetime,
    moving: Meeting | None = None,
) -> _Fit:
    """Every rule on one start, read under the locks."""
    found = instructors_for(offering, student.level, instructor.pk)
    if instructor.user_id == student.user_id or not found:
        raise Refused(
            "not-taught",
            f"{instructor} does not teach this at level {student.level}. Choose another instructor.",
        )
    if starts_at.tzinfo is None:
        raise Refused("naive-time", "Send the start with its offset, such as 2027-03-12T17:30:00Z.")
    policy = policy_in_force(now)
    asked = offering_rules(offering, policy.rules())
    since, until = starts_at - _AROUND, starts_at + _AROUND
    ignoring = moving.pk if moving is not None else None
    (time,) = instructors_time(found, since, until, ignoring=ignoring)
    her_time = student_time(student, since, until, ignoring=ignoring, open_after=now)
    check_start(starts_at, asked, time, her_time, policy.rules(), now)
    ends_at = starts_at + timedelta(minutes=asked.minutes)
    return _Fit(
        found[0],
        student,
        policy,
        ends_at,
        ends_at + timedelta(minutes=asked.changeover_minutes),
        her_time,
    )


def _place_in_time(meeting: Meeting, fit: _Fit, starts_at: datetime, *, now: datetime) -> None:
    meeting.instructor = fit.instructor
    set_period(meeting, starts_at, fit.ends_at, fit.held_until, zone_of_hours(fit.instructor))
    meeting.changed_at = now


def set_period(
    meeting: Meeting, starts_at: datetime, ends_at: datetime, held_until: datetime, time_zone: str
) -> None:
    """Writes the promise (wall time, fold, zone) and what is derived from it (the instants, UTC).

    Whoever chose this time was judged by the rules, so a flag of the old one goes.
    """
    wall = starts_at.astimezone(zone(time_zone))
    meeting.wall_on, meeting.wall_at, meeting.fold = (
        wall.date(),
        wall.time().replace(fold=0),
        wall.fold,
    )
    meeting.time_zone = zone(time_zone)
    meeting.starts_at, meeting.ends_at, meeting.held_until = starts_at, ends_at, held_until
    meeting.minutes = int((ends_at - starts_at).total_seconds()) // 60
    meeting.tzdata_version = TZDATA_VERSION
    meeting.is_flagged, meeting.flagged_why = False, ""


def cancel_meeting(meeting: Meeting, *, why: str, now: datetime) -> None:
    """Marks it cancelled, in memory; the caller counts its places and saves it."""
    meeting.status = MeetingStatus.CANCELLED
    meeting.called_off_why = why
    meeting.sequence += 1
    meeting.version += 1
    meeting.changed_at = now


def fresh(booking: Booking, *, version: int | None) -> Booking:
    """The booking as it stands under the locks; Refused("stale") where it is not the version the caller read."""
    current = Booking.objects.select_related(
        "policy", "student__user", "meeting__offering", "meeting__instructor__user"
    ).get(pk=booking.pk)
    if version is not None and current.version != version:
        raise Refused(
            "stale", "The booking has changed since you read it. Read it again, then decide."
        )
    return current


def check_not_ended(booking: Booking, now: datetime) -> None:
    """Refuses where the booking has ended or its meeting has begun."""
    if not booking.is_live:
        raise Refused("already-ended", "This booking has already ended.")
    if booking.starts_at <= now:
        raise Refused("past", "The meeting has begun; what happened is marked in the register.")


def why_cancelled(booking: Booking, now: datetime) -> Ended:
    """In time or late, by the policy the booking was made under."""
    in_time = now <= rules.cancel_by(booking.policy.rules(), booking.starts_at)
    return Ended.CANCELLED_IN_TIME if in_time else Ended.CANCELLED_LATE


def end(booking: Booking, *, why: Ended, now: datetime) -> None:
    """The booking is over; the caller gives back its place. Of an offer nobody is reminded any more."""
    if booking.answer_by is not None:
        outbox.withdraw_offer(booking.pk)
    booking.standing, booking.ended_at, booking.ended_why = Standing.ENDED, now, why
    booking.version += 1
    booking.save(update_fields=["standing", "ended_at", "ended_why", "version"])
    _close_move_requests(booking, now=now)


def _close_move_requests(
    booking: Booking, *, answering: MoveRequest | None = None, now: datetime
) -> None:
    """What was asked of a booking that is no longer as it was: nobody can answer it any more."""
    open_ones = MoveRequest.objects.filter(booking=booking, state=MoveRequest.State.OPEN)
    if answering is not None:
        open_ones = open_ones.exclude(pk=answering.pk)
    open_ones.update(state=MoveRequest.State.CLOSED, answered_at=now)


def check_notice(booking: Booking, now: datetime) -> None:
    """Refuses where the booking has ended or can no longer be cancelled in time."""
    check_not_ended(booking, now)
    if why_cancelled(booking, now) is Ended.CANCELLED_LATE:
        raise Refused(
            "notice-passed",
            "The cancellation deadline has passed, so this can no longer be moved. You can still cancel it, and that is charged.",
        )


def written_intake(booking: Booking) -> IntakeText:
    """What is written by now; empty where nothing is."""
    found = Intake.objects.filter(booking=booking).first()
    if found is None:
        return IntakeText()
    return IntakeText(
        questions=found.questions,
        pieces=found.pieces,
        recordings=found.recordings,
        obstacle=found.obstacle,
    )


def _keep_intake(booking: Booking, intake: IntakeText, *, now: datetime) -> None:
    fields = {
        "questions": list(intake.questions),
        "pieces": intake.pieces,
        "recordings": list(intake.recordings),
        "obstacle": intake.obstacle,
    }
    Intake.objects.update_or_create(booking=booking, defaults={**fields, "written_at": now})
