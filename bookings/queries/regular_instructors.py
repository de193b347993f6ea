"""A student's regular instructor: who could be."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Count, Max

from accounts.models import Instructor, Student
from bookings.models import ONE_ON_ONE, Booking

RECENT = timedelta(days=90)


@dataclass(frozen=True, slots=True)
class Suggestion:
    """The instructor who taught a student most, and how many lessons that were."""

    instructor: Instructor
    lessons: int


def instructors_teaching() -> list[Instructor]:
    """Everybody who teaches now, by name."""
    return list(Instructor.objects.teaching().select_related("user").order_by("user__name", "pk"))


def taught_most(
    student: Student, instructors: Sequence[Instructor], *, now: datetime
) -> Suggestion | None:
    """Of these the one with most one-on-ones with this student in the last 90 days, if any: one
    query. Of equal ones the one who taught last; missed lessons do not count.
    """
    counted = (
        Booking.objects.of(student)
        .seen(now)
        .filter(starts_at__gt=now - RECENT, meeting__offering__kind__in=ONE_ON_ONE)
        .filter(meeting__instructor__in=instructors)
        .order_by()
        .values("meeting__instructor")
        .annotate(lessons=Count("pk"), last_at=Max("starts_at"))
        .order_by("-lessons", "-last_at", "meeting__instructor")
        .values_list("meeting__instructor", "lessons")
        .first()
    )
    if counted is None:
        return None
    found, lessons = counted
    return Suggestion(next(one for one in instructors if one.pk == found), lessons)
