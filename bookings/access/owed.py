"""The owed lessons that a person may see: their family's, and an admin all."""

from datetime import datetime

from accounts.models import User
from bookings.access.refusals import not_there
from bookings.access.students import own_students
from bookings.models import OwedLesson, OwedLessonQuerySet


def owed_lessons_of(user: User, *, now: datetime) -> OwedLessonQuerySet:
    """What is or was owed to this person and the children for whom they answer; an admin sees
    all.
    """
    rows = OwedLesson.objects.with_details().prefetch_related("make_ups")
    if user.is_staff:
        return rows
    return rows.filter(student__in=own_students(user, now=now))


def access_owed_lesson(user: User, owed_id: int, *, now: datetime) -> OwedLesson:
    """An owed lesson that this person may see, and so may make up. Refused("not-found")."""
    found = owed_lessons_of(user, now=now).filter(pk=owed_id).first()
    if found is None:
        raise not_there()
    return found
