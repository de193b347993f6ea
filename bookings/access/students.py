"""The students a person may act for, and what a student is called in front of others."""

from datetime import datetime

from django.db.models import QuerySet

from accounts.models import Guardianship, Student, User
from bookings.access.refusals import not_there
from bookings.domain.errors import Refused
from bookings.domain.policy import is_minor
from bookings.domain.zones import zone


def own_students(user: User) -> QuerySet[Student]:
    """The students a person may act for without being an admin: herself and her children."""
    # A union and not an OR over a join: with 100,000 students that would look at every one of them.
    children = Guardianship.objects.filter(guardian=user).order_by().values("student")
    return Student.objects.filter(
        pk__in=Student.objects.filter(user=user).order_by().values("pk").union(children)
    )


def name_for(reader: User, student: Student, now: datetime) -> str:
    """How a reader who is not of her family sees a student: a minor's surname is for admins only."""
    if student.adult_on is None or reader.is_staff:
        return student.full_name
    under_age = is_minor(student.adult_on, now.astimezone(zone(student.zone)).date())
    return student.first_name if under_age else student.full_name


def access_student(user: User, student_id: int | None = None) -> Student:
    """The student to act for: named by id, oneself, or the only child there is. "invalid" where a guardian of several named none."""
    if user.is_staff and student_id is not None:
        found = Student.objects.select_related("user").filter(pk=student_id).first()
        if found is None:
            raise not_there()
        return found
    if student_id is None:
        herself = Student.objects.select_related("user").filter(user=user).first()
        if herself is not None:
            return herself
    students = own_students(user).select_related("user")
    if student_id is not None:
        students = students.filter(pk=student_id)
    rows = list(students[:2])
    if not rows:
        raise (
            not_there()
            if student_id is not None
            else Refused(
                "not-allowed", "Only a student, a guardian or an admin books; name the student."
            )
        )
    if len(rows) > 1:
        raise Refused(
            "invalid", "You are guardian of several students: say which one.", field="student"
        )
    return rows[0]
