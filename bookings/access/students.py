"""The students a person may act for, and what a student is called in front of others."""

from collections.abc import Iterable
from datetime import datetime

from django.db.models import QuerySet

from accounts.models import Guardianship, Student, User
from bookings.access.refusals import not_there
from bookings.domain.errors import Refused
from bookings.domain.families import is_answered_for, is_child


def students_near(user: User) -> QuerySet[Student]:
    """The person, if a student, and everybody they are a guardian of, whether or not they still
    answer for them.
    """
    # A union and not an OR over a join: with 100,000 students that would look at every one of them.
    children = Guardianship.objects.filter(guardian=user).order_by().values("student")
    near = Student.objects.filter(user=user).order_by().values("pk").union(children)
    return Student.objects.filter(pk__in=near).select_related("user")


def own_students(user: User, *, now: datetime) -> list[Student]:
    """The students a person may act for now without being an admin: themselves and those they
    answer for.
    """
    return [
        student
        for student in students_near(user)
        if student.user_id == user.pk or is_answered_for(student, now)
    ]


def acts_for(user: User, student_id: int, *, now: datetime) -> bool:
    """Whether a person books, moves and cancels for that student now; an admin does for all."""
    return user.is_staff or any(row.pk == student_id for row in own_students(user, now=now))


def name_for(reader: User, student: Student, now: datetime) -> str:
    """How a reader outside the family sees a student: a minor's surname is for admins only."""
    if reader.is_staff or not is_child(student, now):
        return student.full_name
    return student.first_name


def access_student(user: User, student_id: int | None = None, *, now: datetime) -> Student:
    """The student to act for: named by id, oneself, or the only child there is.

    "invalid" where a guardian of several named none.
    """
    if user.is_staff and student_id is not None:
        found = Student.objects.select_related("user").filter(pk=student_id).first()
        if found is None:
            raise not_there()
        return found
    rows = own_students(user, now=now)
    if student_id is not None:
        return student_among(rows, student_id)
    oneself = next((row for row in rows if row.user_id == user.pk), None)
    if oneself is not None:
        return oneself
    if not rows:
        raise Refused(
            "not-allowed", "Only a student, a guardian or an admin can book; name the student."
        )
    if len(rows) > 1:
        raise Refused(
            "invalid", "You are a guardian of several students: say which one.", field="student"
        )
    return rows[0]


def student_among(rows: Iterable[Student], student_id: int) -> Student:
    """The one with that id of the students a person acts for; any other is not there."""
    named = next((row for row in rows if row.pk == student_id), None)
    if named is None:
        raise not_there()
    return named
