"""Whose practice a person sees and ticks."""

from datetime import datetime

from accounts.models import Student, User
from bookings.access.notes import family_among
from bookings.access.refusals import not_there


def access_practising(user: User, student_id: int, *, now: datetime) -> Student:
    """The student whose practice this person sees and ticks: themselves or a child of theirs.

    A barred guardian does neither. A grown child's plan is theirs alone, as their notes are.
    Refused("not-found").
    """
    student = Student.objects.select_related("user").filter(pk=student_id).first()
    if student is None or not family_among(user, [student], now):
        raise not_there()
    return student
