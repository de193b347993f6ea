"""The weekly places that a person may see, and those that they may leave or move."""

from collections.abc import Sequence
from datetime import datetime

from django.db.models import Q, QuerySet

from accounts.models import Student, User
from bookings.access.refusals import not_there
from bookings.access.students import acts_for, own_students
from bookings.domain.errors import Refused
from bookings.models import WeeklyPlace


def weekly_places_of(
    user: User, *, now: datetime, own: Sequence[Student] | None = None
) -> QuerySet[WeeklyPlace]:
    """The weekly places that a person may see; an admin sees all.

    Others see their own, those of students for whom they answer, and those that they teach.
    """
    rows = WeeklyPlace.objects.select_related(
        "term", "student__user", "instructor__user", "instructor__week", "offering", "policy"
    )
    if user.is_staff:
        return rows
    taught = Q(instructor__user=user, instructor__is_active=True)
    students = own_students(user, now=now) if own is None else own
    return rows.filter(Q(student__in=students) | taught)


def access_own_weekly_place(
    user: User, place_id: int, *, now: datetime, own: Sequence[Student] | None = None
) -> WeeklyPlace:
    """A weekly place that this person may leave or move: as its student, a guardian or an admin;
    with what the family would rather have.

    `own` are the students they act for, where the caller has read them.
    Refused: "not-found", "not-allowed" for its instructor.
    """
    rows = weekly_places_of(user, now=now, own=own).select_related("wish_order")
    found = rows.filter(pk=place_id).first()
    if found is None:
        raise not_there()
    if not acts_for(user, found.student_id, now=now, own=own):
        raise Refused(
            "not-allowed",
            "An instructor calls meetings off; the weekly place is the student's to leave or move.",
        )
    return found
