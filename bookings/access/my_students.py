"""The students that an instructor has, and those that an admin sees."""

from datetime import datetime, timedelta

from django.db.models import QuerySet

from accounts.models import Instructor, Student, User
from bookings.access.instructors import access_instructor, instructor_of
from bookings.access.refusals import not_there
from bookings.domain.errors import Refused
from bookings.models import Booking

STAYS = timedelta(days=400)
"""How long after their last lesson a student stays on an instructor's list: a year and a summer."""


def access_list_of(user: User, instructor_id: int | None = None) -> Instructor | None:
    """The instructor whose students this person may list; None for all, which is for admins.

    Refused: "not-allowed" for anybody else, "not-found" for another instructor's students.
    """
    if user.is_staff and instructor_id is None:
        return None
    if not user.is_staff and instructor_of(user) is None:
        raise Refused("not-allowed", "Only instructors and admins have a list of students.")
    return access_instructor(user, instructor_id)


def students_listed(
    instructor: Instructor | None, *, active: bool = True, now: datetime
) -> QuerySet[Student]:
    """Those who learn here, or who have left, by name: all for None, else the instructor's own.

    These are their regular students and whoever has or had a place with them, ahead or in the last
    400 days.
    """
    rows = Student.objects.filter(is_active=active).select_related("user")
    if instructor is None:
        return rows
    held = Booking.objects.held().taught_by(instructor).ending_after(now - STAYS)
    regular = Student.objects.filter(regular_instructor=instructor).order_by()
    return rows.filter(pk__in=held.order_by().values("student").union(regular.values("pk")))


def access_listed_student(user: User, student_id: int, *, now: datetime) -> Student:
    """One of the students that this person may list; for an admin also one who has left.

    Refused: "not-allowed", "not-found".
    """
    whose = access_list_of(user)
    rows = students_listed(whose, now=now)
    if whose is None:
        rows = rows | students_listed(None, active=False, now=now)
    found = rows.filter(pk=student_id).first()
    if found is None:
        raise not_there()
    return found
