"""The weekly places that a person may see, and those that they may leave or move."""

from datetime import datetime

from django.db.models import Q, QuerySet

from accounts.models import User
from bookings.access.refusals import not_there
from bookings.access.students import acts_for, own_students
from bookings.domain.errors import Refused
from bookings.models import WeeklyPlace


def weekly_places_of(user: User, *, now: datetime) -> QuerySet[WeeklyPlace]:
    """The weekly places that a person may see; an admin sees all.

    Others see their own, those of students for whom they answer, and those that they teach.
    """
    rows = WeeklyPlace.objects.select_related(
        "term", "student__user", "instructor__user", "offering", "policy"
    )
    if user.is_staff:
        return rows
    taught = Q(instructor__user=user, instructor__is_active=True)
    return rows.filter(Q(student__in=own_students(user, now=now)) | taught)


def access_own_weekly_place(user: User, place_id: int, *, now: datetime) -> WeeklyPlace:
    """A weekly place that this person may leave or move: as its student, a guardian or an admin.

    Refused: "not-found", "not-allowed" for its instructor.
    """
    found = weekly_places_of(user, now=now).filter(pk=place_id).first()
    if found is None:
        raise not_there()
    if not acts_for(user, found.student_id, now=now):
        raise Refused(
            "not-allowed",
            "An instructor calls meetings off; the weekly place is the student's to leave or move.",
        )
    return found
