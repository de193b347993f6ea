"""What the solver is given to find who is next: an instructor's due students and free starts."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from accounts.models import Instructor, Student
from bookings.domain.coming import cost_of_coming
from bookings.domain.due import Due
from bookings.domain.errors import Refused
from bookings.domain.free_starts import free_starts
from bookings.domain.parties import OfferingRules, StudentTime
from bookings.domain.planning.who_next import DueStudent, FreeStart, WhoNextProblem
from bookings.domain.policy import Policy
from bookings.domain.timeline import Period
from bookings.domain.zones import zone
from bookings.models import Booking, Offering, Teaches
from bookings.queries.consents import without_consent
from bookings.queries.instructor_times import instructors_time
from bookings.queries.my_students import Wanted, due_among, students_wanted
from bookings.queries.offerings import offering_rules, teaching_now
from bookings.queries.planning.students import students_named, times_of_students
from bookings.queries.planning.versions import seen_now
from bookings.queries.policies import policy_in_force

FORTNIGHT = timedelta(days=14)
TO_ANSWER = timedelta(days=1)
"""Nothing nearer is proposed, so that the plan can be adopted and the family can answer."""
OTHER_LEVEL = "This is not taught at the student's level."
NO_CONSENT = "No guardian has agreed to live lessons yet."
ASKED_ALREADY = "Times are proposed to this student already."


@dataclass(frozen=True, slots=True)
class WhoNextRead:
    """The problem; why each student is due; and those who cannot be proposed a time, by id, each
    with the reason.
    """

    problem: WhoNextProblem
    due: Mapping[int, Due]
    left_out: Mapping[int, str]


def who_next_named(asked: Mapping[str, Any]) -> tuple[Instructor, Teaches]:
    """The instructor, and what they teach. Refused("invalid") with the field that names none."""
    rows = teaching_now().select_related("user", "week")
    instructor = rows.filter(pk=asked["instructor"]).first()
    if instructor is None:
        raise Refused("invalid", "Choose an instructor who teaches here.", field="instructor")
    taught = Teaches.objects.by_people_here().select_related("offering")
    found = taught.filter(instructor=instructor, offering=asked["offering"]).first()
    if found is None or not (found.offering.is_open and found.offering.is_one_on_one):
        raise Refused(
            "invalid", f"Choose a one-on-one that {instructor} teaches.", field="offering"
        )
    return instructor, found


def read_who_next(
    asked: Mapping[str, Any], *, now: datetime
) -> tuple[WhoNextRead, dict[str, int | str]]:
    """The problem and the versions of what was read for it: as many queries for any number of
    students. They are those on the instructor's own list of students due a review.
    """
    instructor, taught = who_next_named(asked)
    policy = policy_in_force(now).rules()
    rules = offering_rules(taught.offering, policy)
    since = now + TO_ANSWER
    until = now + min(FORTNIGHT, timedelta(days=policy.horizon_days))
    rows = students_wanted(instructor.user, Wanted(instructor=instructor), now=now)
    due = {one.student_id: one for one in due_among(rows, instructor.user, instructor, now=now)}
    students = students_named(due)
    left_out = _left_out(students, instructor, taught, now)
    asked_of = [student for student in students if student.pk not in left_out]
    (time,) = instructors_time([instructor], since, until)
    starts = free_starts(rules, time, policy, since, until)
    hours = times_of_students(asked_of, since, until)
    today = now.astimezone(zone(instructor.user.zone)).date()
    problem = WhoNextProblem(
        students=tuple(
            _due_student(due[pk], hours[pk], starts, rules, policy, today)
            for pk in due
            if pk in hours
        ),
        taught=time.taught,
        time_zone=time.time_zone,
        policy=policy,
    )
    return WhoNextRead(problem, due, left_out), seen_now(instructors=[instructor])


def _left_out(
    students: Sequence[Student], instructor: Instructor, taught: Teaches, now: datetime
) -> dict[int, str]:
    """Those to whom no time may be proposed, each with the reason: two queries."""
    found = {}
    without = without_consent(students, now=now)
    proposed = Booking.objects.proposed().filter(student__in=students)
    waiting = set(proposed.values_list("student_id", flat=True))
    for student in students:
        is_taught = taught.lowest_level <= student.level <= taught.highest_level
        if not is_taught or student.user_id == instructor.user_id:
            found[student.pk] = OTHER_LEVEL
        elif student.pk in without:
            found[student.pk] = NO_CONSENT
        elif student.pk in waiting:
            found[student.pk] = ASKED_ALREADY
    return found


def _due_student(
    due: Due,
    student: StudentTime,
    starts: Sequence[datetime],
    rules: OfferingRules,
    policy: Policy,
    today: date,
) -> DueStudent:
    """The student with those of the starts to which they can come."""
    length = timedelta(minutes=rules.minutes)
    costs = ((at, cost_of_coming(student, Period(at, at + length), policy)) for at in starts)
    return DueStudent(
        student_id=due.student_id,
        unseen_days=None if due.last_on is None else (today - due.last_on).days,
        minutes=rules.minutes,
        changeover_minutes=rules.changeover_minutes,
        starts=tuple(FreeStart(at, cost) for at, cost in costs if cost is not None),
    )


def offerings_to_propose(instructor: Instructor | None) -> list[Offering]:
    """The open one-on-ones that this instructor teaches, or anybody for None, by name."""
    rows = Teaches.objects.by_people_here()
    if instructor is not None:
        rows = rows.filter(instructor=instructor)
    taught = Offering.objects.bookable().filter(pk__in=rows.order_by().values("offering"))
    return [offering for offering in taught if offering.is_one_on_one]
