"""A student's whole record: taken in with invitations, and changed at once."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import NamedTuple, TypedDict

from accounts.models import Instructor, Student, User
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.domain.people_rows import Person
from bookings.operations.locks import lock_instructors, lock_students
from bookings.operations.new_students import add_student_and_invite
from bookings.operations.regular_instructors import name_regular_instructor
from bookings.operations.students import change_student


class RecordValues(TypedDict, total=False):
    """What a record says. `adult_on` is None for a known adult."""

    name: str
    level: int
    unit: int
    time_zone: str
    adult_on: date | None
    regular_instructor: Instructor | None


class Record(NamedTuple):
    """A record as somebody has read it."""

    name: str
    level: int
    unit: int
    zone: str
    adult_on: date | None
    regular_instructor_id: int | None
    is_active: bool


def record_of(student: Student) -> Record:
    """The record as it stands."""
    return Record(
        student.full_name,
        student.level,
        student.unit,
        student.zone,
        student.adult_on,
        student.regular_instructor_id,
        student.is_active,
    )


def take_in(
    *,
    actor: User,
    values: RecordValues,
    email: str = "",
    new_guardians: Sequence[Person] = (),
    now: datetime,
) -> Student:
    """Adds a student with their regular instructor, and invites them and their guardians. `values`
    has all but the regular instructor.

    Refused: as `add_student_and_invite` and `name_regular_instructor`.
    """
    regular = values.get("regular_instructor")
    if regular is not None:
        lock_instructors([regular.pk])
    student = add_student_and_invite(
        actor=actor,
        name=values["name"],
        level=values["level"],
        unit=values["unit"],
        time_zone=values["time_zone"],
        adult_on=values["adult_on"],
        email=email,
        new_guardians=new_guardians,
        now=now,
    )
    if regular is None:
        return student
    return name_regular_instructor(actor=actor, student=student, instructor=regular, now=now)


def change_record(
    *,
    actor: User,
    student: Student,
    values: RecordValues,
    seen: Record | None = None,
    now: datetime,
) -> Student:
    """Changes what `values` names.

    Refused: "stale" where the record differs from `seen`, and as `change_student` and
    `name_regular_instructor`.
    """
    require_admin(actor)
    regular = values.get("regular_instructor")
    if regular is not None:
        lock_instructors([regular.pk])
    current = lock_students([student.pk])[student.pk]
    if seen is not None and seen != record_of(current):
        raise Refused("stale", "The record has changed since you read it. Read it again.")
    if "regular_instructor" in values:
        current = name_regular_instructor(actor=actor, student=current, instructor=regular, now=now)
    name, time_zone = values.get("name"), values.get("time_zone")
    if values.keys() - {"regular_instructor"}:
        current = change_student(
            actor=actor,
            student=current,
            level=values.get("level", current.level),
            unit=values.get("unit", current.unit),
            adult_on=values.get("adult_on", current.adult_on),
            # What the account says already is no change of it.
            name=None if name == current.full_name else name,
            time_zone=None if time_zone == current.zone else time_zone,
            now=now,
        )
    return current
