"""Whose busy time a person may see and change."""

from datetime import datetime

from django.db.models import Q

from accounts.models import Instructor, Student, User
from bookings.access.instructors import instructor_of
from bookings.access.refusals import not_there
from bookings.access.students import own_students
from bookings.domain.errors import Refused
from bookings.models import BusyCalendar


def access_busy_person(
    user: User,
    *,
    student_id: int | None = None,
    instructor_id: int | None = None,
    now: datetime,
) -> Instructor | Student:
    """The person whose busy time is meant: a student of the family, or oneself.

    Nobody sees the busy time of others, admins neither. Refused: "not-found", "not-allowed",
    "invalid" where a guardian of several students names none.
    """
    if student_id is not None:
        students = own_students(user, now=now)
        found = next((row for row in students if row.pk == student_id), None)
        if found is None:
            raise not_there()
        return found
    own = instructor_of(user)
    if instructor_id is not None and (own is None or own.pk != instructor_id):
        raise not_there()
    if own is not None:
        return own
    rows = sorted(own_students(user, now=now), key=lambda row: row.pk)
    if not rows:
        raise Refused(
            "not-allowed", "Only an instructor, a student or a guardian has busy calendars."
        )
    own_row = next((row for row in rows if row.user_id == user.pk), None)
    if own_row is None and len(rows) > 1:
        raise Refused(
            "invalid", "You are a guardian of several students: say which one.", field="student"
        )
    return own_row or rows[0]


def access_busy_calendar(user: User, calendar_id: int, *, now: datetime) -> BusyCalendar:
    """A busy calendar of this person or of a student for whom they answer. Refused("not-found")."""
    students = own_students(user, now=now)
    mine = Q(owner=user) | Q(student__in=students) | Q(owner__student__in=students)
    found = (
        BusyCalendar.objects.filter(mine, pk=calendar_id)
        .select_related("owner", "student__user")
        .first()
    )
    if found is None:
        raise not_there()
    return found
