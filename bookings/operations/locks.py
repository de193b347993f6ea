"""The one written lock order: instructors by id, meetings by id, students by id. (Feed revisions come last, in outbox.)

FOR NO KEY UPDATE, so that foreign keys to the locked rows do not wait. SQLite has one writer: there it is a plain read.
"""

from collections.abc import Iterable

from accounts.models import Instructor, Student
from bookings.models import Meeting


def lock_instructors(ids: Iterable[int]) -> dict[int, Instructor]:
    """The instructors with these ids, locked; call it first."""
    rows = Instructor.objects.select_for_update(no_key=True, of=("self",)).filter(pk__in=set(ids)).select_related("user").order_by("pk")
    return {row.pk: row for row in rows}


def lock_meetings(ids: Iterable[int]) -> dict[int, Meeting]:
    """The meetings with these ids, locked; after instructors, before students."""
    rows = (
        Meeting.objects.select_for_update(no_key=True, of=("self",))
        .filter(pk__in=set(ids))
        .select_related("offering", "instructor__user")
        .order_by("pk")
    )
    return {row.pk: row for row in rows}


def lock_students(ids: Iterable[int]) -> dict[int, Student]:
    """The students with these ids, locked; last."""
    rows = Student.objects.select_for_update(no_key=True, of=("self",)).filter(pk__in=set(ids)).select_related("user").order_by("pk")
    return {row.pk: row for row in rows}
