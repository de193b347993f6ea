"""A start that every rule allows, judged under the locks."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from accounts.models import Instructor, Student, User
from bookings.domain.errors import Refused
from bookings.domain.proposed_times import without_lead
from bookings.domain.slots import StudentTime, check_start
from bookings.domain.vocabulary import PlaceKind
from bookings.models import Booking, Meeting, Offering, StudioPolicy
from bookings.operations.meeting_state import set_period
from bookings.operations.rooms import new_address
from bookings.queries.instructor_times import instructors_time
from bookings.queries.offerings import offering_rules
from bookings.queries.policies import policy_in_force
from bookings.queries.slots import Found, StartRefused
from bookings.queries.student_times import student_time
from bookings.queries.teaching import instructors_for, zone_of_hours

_AROUND = timedelta(days=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class AllowedStart:
    """A start that every rule allows, with the rows that belong to it as they were judged."""

    instructor: Instructor
    student: Student
    policy: StudioPolicy
    starts_at: datetime
    ends_at: datetime
    held_until: datetime
    student_time: StudentTime


def judge_start(
    *,
    offering: Offering,
    instructor: Instructor,
    student: Student,
    starts_at: datetime,
    now: datetime,
    moving: Iterable[Meeting] = (),
    by_school: bool = False,
) -> AllowedStart:
    """Checks a start of a one-on-one by every rule; the lead time does not bind the school.

    The time of the meetings `moving` becomes free. Refused: "not-taught", and as `check_has_offset`
    and domain.slots.check_start.
    """
    teacher = teacher_for(offering, instructor, student)
    check_has_offset(starts_at)
    policy = policy_in_force(now)
    limits = without_lead(policy.rules()) if by_school else policy.rules()
    rules = offering_rules(offering, limits)
    since, until = starts_at - _AROUND, starts_at + _AROUND
    ignoring = tuple(meeting.pk for meeting in moving)
    (taught,) = instructors_time([teacher], since, until, ignoring=ignoring)
    learnt = student_time(student, since, until, ignoring=ignoring, open_after=now)
    check_start(starts_at, rules, taught, learnt, limits, now)
    ends_at = starts_at + timedelta(minutes=rules.minutes)
    return AllowedStart(
        instructor=teacher,
        student=student,
        policy=policy,
        starts_at=starts_at,
        ends_at=ends_at,
        held_until=ends_at + timedelta(minutes=rules.changeover_minutes),
        student_time=learnt,
    )


def check_has_offset(starts_at: datetime) -> None:
    """Refused("naive-time") for a start without its offset."""
    if starts_at.tzinfo is None:
        raise Refused("naive-time", "Send the start with its offset, such as 2027-03-12T17:30:00Z.")


def teacher_for(offering: Offering, instructor: Instructor, student: Student) -> Instructor:
    """The instructor as read now. Refused("not-taught") where they do not teach this student."""
    teachers = instructors_for(offering, student.level, instructor.pk)
    if instructor.user_id == student.user_id or not teachers:
        raise Refused(
            "not-taught",
            f"{instructor} does not teach this at level {student.level}. "
            "Choose another instructor.",
        )
    return teachers[0]


def check_among(
    around: Found, offering: Offering, instructor: Instructor, starts_at: datetime, now: datetime
) -> None:
    """Checks a start by what a search around it has read, without locks.

    Allows it where the search did not look at this instructor. Raises StartRefused otherwise.
    """
    if instructor.pk not in around.times:
        return
    rules, policy = offering_rules(offering, around.policy), around.policy
    try:
        check_start(starts_at, rules, around.times[instructor.pk], around.student, policy, now)
    except Refused as refusal:
        raise StartRefused(refusal, around) from None


def write_at_start(
    meeting: Meeting, booking: Booking, start: AllowedStart, *, actor: User, now: datetime
) -> Booking:
    """Writes a new one-on-one at this start, and its one booking.

    The caller has said in both, unsaved, what else they are: agreed or proposed.
    """
    meeting.made_at, meeting.places, meeting.taken = now, 1, 1
    put_at_start(meeting, start, now=now)
    meeting.save(force_insert=True)
    booking.meeting, booking.student = meeting, start.student
    booking.starts_at, booking.ends_at = meeting.starts_at, meeting.ends_at
    booking.place_kind, booking.policy = PlaceKind.PLAYER, start.policy
    booking.booked_by, booking.booked_at = actor, now
    booking.save(force_insert=True)
    return booking


def put_at_start(meeting: Meeting, start: AllowedStart, *, now: datetime) -> None:
    """Sets the meeting's instructor and time, in memory."""
    meeting.instructor = start.instructor
    set_period(
        meeting,
        start.starts_at,
        start.ends_at,
        start.held_until,
        zone_of_hours(start.instructor),
    )
    meeting.changed_at = now


def move_to_start(
    booking: Booking, meeting: Meeting, start: AllowedStart, *, now: datetime
) -> None:
    """Writes the new time on a one-on-one and its booking: the same UID, SEQUENCE plus 1."""
    if start.instructor.pk != meeting.instructor_id:
        meeting.join_address = new_address(start.instructor.room)
    put_at_start(meeting, start, now=now)
    meeting.sequence += 1
    meeting.version += 1
    meeting.save()
    booking.meeting, booking.student = meeting, start.student
    booking.starts_at, booking.ends_at = meeting.starts_at, meeting.ends_at
    booking.is_flagged = False
    booking.version += 1
    booking.save(update_fields=["starts_at", "ends_at", "is_flagged", "decline_by", "version"])
