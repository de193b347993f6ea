"""Assessments, read. Whoever shows a body asks access first and logs the reading."""

from accounts.models import Student
from bookings.domain.vocabulary import NoteState
from bookings.models import Assessment


def latest_released(student: Student) -> Assessment | None:
    """The student's latest released assessment: the newest version of the note released last."""
    return (
        Assessment.objects.filter(student=student, state=NoteState.RELEASED)
        .select_related("author__user", "student__user")
        .order_by("-released_at", "-id")
        .first()
    )
