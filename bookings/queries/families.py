"""A person's family: the students they act for, and what is still awaited of them."""

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Exists, OuterRef, Subquery

from accounts.models import Guardianship, Student, User
from bookings.access import own_students, students_near
from bookings.domain.families import is_child
from bookings.queries.planning.asked_hours import unanswered


@dataclass(frozen=True, slots=True)
class Awaited:
    """A child for whom no consent is on file, as somebody of the family is told.

    `form_id` is the reader's own form to fill in, None where they are no guardian.
    """

    student: Student
    form_id: int | None


@dataclass(frozen=True, slots=True)
class AskedFor:
    """A student whose family has not said yet which hours they can come, though a plan asks for it
    until `answer_by`.
    """

    student: Student
    answer_by: datetime


@dataclass(frozen=True, slots=True)
class Family:
    """The students a person acts for now: themselves first, then their children by name."""

    students: list[Student]
    awaited: list[Awaited]
    asked: list[AskedFor]


def family_of(user: User, *, now: datetime) -> Family:
    """The family, those of it for whom nothing can be booked yet, and those whose hours are asked
    for: one query.
    """
    asked = unanswered(now).filter(student=OuterRef("pk")).order_by("plan__answer_by")
    guardians = Guardianship.objects.answering().filter(student=OuterRef("pk"))
    near = students_near(user).annotate(
        is_agreed=Exists(guardians.agreed()),
        hours_by=Subquery(asked.values("plan__answer_by")[:1]),
        form_id=Subquery(guardians.filter(guardian=user).order_by().values("pk")[:1]),
    )
    found = {student.pk: student for student in near}
    students = own_students(user, now=now, near=list(found.values()))
    awaited = [
        Awaited(student, found[student.pk].form_id)
        for student in students
        if student.is_active and is_child(student, now) and not found[student.pk].is_agreed
    ]
    students.sort(key=lambda student: student.user_id != user.pk)
    hours = [(student, found[student.pk].hours_by) for student in students]
    return Family(students, awaited, [AskedFor(one, until) for one, until in hours if until])
