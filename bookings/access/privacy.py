"""Who asks for a person's own data, or for its erasure."""

from collections.abc import Iterable
from datetime import datetime

from accounts.models import Student, User
from bookings.access.notes import family_among
from bookings.access.refusals import not_there
from bookings.domain.errors import Refused


def access_own_data(
    user: User, student_id: int, *, reason: str = "", now: datetime
) -> tuple[Student, str]:
    """The student, and whether this person is "family" or "admin" to them.

    The family is the student and, while the student is a minor, each guardian who answers for them:
    the right is the child's. Refused: "not-found"; "invalid" for an admin without a `reason`.
    """
    student, relation = find_own_data(user, student_id, now=now)
    if relation == "admin" and not reason.strip():
        raise Refused("invalid", "Say why this is needed; the reason is kept.", field="reason")
    return student, relation


def whose_data(user: User, students: Iterable[Student], *, now: datetime) -> list[Student]:
    """Those of these students whose data this person may ask for as their family: one query."""
    rows = list(students)
    own = family_among(user, rows, now)
    return [student for student in rows if student.pk in own]


def find_own_data(user: User, student_id: int, *, now: datetime) -> tuple[Student, str]:
    """The same for looking at what has been asked: an admin needs no reason."""
    student = Student.objects.select_related("user").filter(pk=student_id).first()
    if student is None:
        raise not_there()
    if family_among(user, [student], now):
        return student, "family"
    if not user.is_staff:
        raise not_there()
    return student, "admin"


def may_approve(user: User, student: Student, *, now: datetime) -> bool:
    """Whether this person decides on what was asked about the student's data: an admin, but not on
    their own family's while the school has another admin. At most two queries.
    """
    if not user.is_staff:
        return False
    others = User.objects.filter(is_staff=True, is_active=True).exclude(pk=user.pk)
    return not (family_among(user, [student], now) and others.exists())
