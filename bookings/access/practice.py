"""Whose practice a person sees and ticks."""

from datetime import datetime

from accounts.models import Guardianship, Student, User
from bookings.access.refusals import not_there
from bookings.domain.families import is_child


def access_practising(user: User, student_id: int, *, now: datetime) -> Student:
    """The student whose practice this person sees and ticks: themselves or a child of theirs.

    A barred guardian does neither. A grown child's plan is theirs alone, as their notes are.
    Refused("not-found").
    """
    student = Student.objects.select_related("user").filter(pk=student_id).first()
    if student is None or not _is_family(user, student, now):
        raise not_there()
    return student


def _is_family(user: User, student: Student, now: datetime) -> bool:
    if student.user_id == user.pk:
        return True
    guarding = Guardianship.objects.answering().filter(guardian=user, student=student)
    return is_child(student, now) and guarding.exists()
