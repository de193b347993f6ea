"""Whose practice a person sees and ticks."""

from datetime import datetime

from accounts.models import Guardianship, Student, User
from bookings.access.refusals import not_there
from bookings.domain.families import is_child


def may_practise(user: User, student: Student, *, now: datetime) -> bool:
    """Whether this person is the student or, while the student is a minor, a guardian of theirs.

    A barred guardian is none. A grown child's plan is theirs alone, as their notes are.
    """
    if student.user_id == user.pk:
        return True
    guarding = Guardianship.objects.answering().filter(guardian=user, student=student)
    return is_child(student, now) and guarding.exists()


def access_practising(user: User, student_id: int, *, now: datetime) -> Student:
    """The student whose practice this person sees and ticks. Refused("not-found")."""
    student = Student.objects.select_related("user").filter(pk=student_id).first()
    if student is None or not may_practise(user, student, now=now):
        raise not_there()
    return student
