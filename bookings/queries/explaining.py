"""Why a start is not offered, or how well it fits."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TypeVar

from django.db.models import Model, QuerySet

from accounts.models import Instructor, Student
from bookings.domain.addresses import known_as
from bookings.domain.errors import Refused
from bookings.domain.explain import Stretch, explain_stretch, for_school
from bookings.domain.slots import Reason, Slot, StudentTime, explain_start, for_student
from bookings.domain.start_costs import Listing
from bookings.domain.timeline import CELL, Period, in_utc, rfc3339
from bookings.models import Meeting, Offering, Teaches
from bookings.queries.instructor_times import instructors_time
from bookings.queries.offerings import offering_rules
from bookings.queries.policies import policy_in_force
from bookings.queries.slots import check_one_on_one, slots_for
from bookings.queries.student_times import student_time
from bookings.queries.teaching import zone_of_hours

_AROUND = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Explained:
    """The reasons against a start, and the meetings they are about by their starts.

    Without reasons, the slot.
    """

    reasons: tuple[Reason, ...]
    meetings: dict[str, Meeting]
    slot: Slot | None


def explained(
    *,
    offering: Offering,
    instructor: Instructor,
    student: Student | None,
    starts_at: datetime,
    now: datetime,
    is_family: bool,
) -> Explained:
    """The reasons against that start for the student, or its slot.

    Without a student, the start is judged for an adult with an empty diary.

    A family reads no more of the instructor's time than "not free"; the instructor and admins are
    told which meeting it is. Refused: "wrong-kind", "not-taught", "naive-time".
    """
    starts_at = in_utc(starts_at)
    _check_taught(offering, instructor, student)
    policy = policy_in_force(now).rules()
    since, until = starts_at - _AROUND, starts_at + _AROUND
    (time,) = instructors_time([instructor], since, until)
    nobody = StudentTime(0, zone_of_hours(instructor))
    time_of_student = student_time(student, since, until) if student else nobody
    rules = offering_rules(offering, policy)
    reasons = explain_start(starts_at, rules, time, time_of_student, policy, now)
    slot = None
    if student is not None and not reasons:
        slot = _slot(offering, instructor, student, starts_at, by_school=not is_family, now=now)
    if is_family:
        return Explained(for_student(reasons), {}, slot)
    return Explained(for_school(reasons), _meetings_in_the_way(reasons, instructor), slot)


def _slot(
    offering: Offering,
    instructor: Instructor,
    student: Student,
    starts_at: datetime,
    *,
    by_school: bool,
    now: datetime,
) -> Slot | None:
    found = slots_for(
        offering=offering,
        student=student,
        since=starts_at,
        until=starts_at + CELL,
        now=now,
        instructor_id=instructor.pk,
        listing=Listing(with_never=True),
        every=True,
        by_school=by_school,
    )
    return next(iter(found.slots), None)


def _meetings_in_the_way(reasons: Iterable[Reason], instructor: Instructor) -> dict[str, Meeting]:
    """The instructor's meetings that the reasons are about, by their starts as RFC 3339 text."""
    begins = [
        str(reason.numbers["starts_at"])
        for reason in reasons
        if reason.numbers.get("kind") == "meeting"
    ]
    live = Meeting.objects.holding_time().taught_by(instructor).select_related("offering")
    return {rfc3339(row.starts_at): row for row in live.filter(starts_at__in=begins)}


def check_teaches_then(
    *, offering: Offering, instructor: Instructor, starts_at: datetime, now: datetime
) -> None:
    """Refused("outside-hours") unless the instructor teaches for the whole offering from then."""
    policy = policy_in_force(now).rules()
    (time,) = instructors_time([instructor], starts_at - _AROUND, starts_at + _AROUND)
    nobody = StudentTime(0, time.time_zone)
    reasons = explain_start(starts_at, offering_rules(offering, policy), time, nobody, policy, now)
    for reason in reasons:
        if reason.code == "outside-hours":
            raise reason.refusal


def why_nothing(
    *,
    offering: Offering,
    student: Student,
    people: Sequence[Instructor],
    day: Period,
    now: datetime,
) -> list[tuple[Instructor, list[Stretch]]]:
    """For each instructor the day in stretches.

    Each has the reasons against a start that a family may read.
    """
    policy = policy_in_force(now).rules()
    rules = offering_rules(offering, policy)
    time_of_student = student_time(student, day.starts_at - _AROUND, day.ends_at + _AROUND)
    times = instructors_time(people, day.starts_at - _AROUND, day.ends_at + _AROUND)
    return [
        (person, explain_stretch(day, rules, time, time_of_student, policy, now))
        for person, time in zip(people, times, strict=True)
    ]


def _check_taught(offering: Offering, instructor: Instructor, student: Student | None) -> None:
    check_one_on_one(offering)
    taught = Teaches.objects.filter(
        offering=offering, instructor=instructor, instructor__is_active=True
    )
    if student is not None:
        taught = taught.at_level(student.level)
    if not taught.exists() or (student is not None and student.user_id == instructor.user_id):
        raise Refused(
            "not-taught",
            f"{instructor} does not teach this at that level. Choose another instructor.",
        )


def offering_named(name: str) -> Offering:
    """The offering of that name, for commands. Refused("not-found") if there is none."""
    return _only(Offering.objects.filter(name=name), f"No offering has the name {name}.")


def teacher_of_email(email: str) -> Instructor:
    """The instructor with that email address, for commands.

    Refused("not-found") if there is none.
    """
    rows = Instructor.objects.select_related("user", "week").filter(user__email=known_as(email))
    return _only(rows, f"No instructor has the address {email}.")


def student_numbered(student_id: int) -> Student:
    """The student with that id, for commands. Refused("not-found") if there is none."""
    rows = Student.objects.select_related("user").filter(pk=student_id)
    return _only(rows, f"No student has the number {student_id}.")


_Row = TypeVar("_Row", bound=Model)


def _only(rows: QuerySet[_Row], absent: str) -> _Row:
    found = rows.first()
    if found is None:
        raise Refused("not-found", absent)
    return found
