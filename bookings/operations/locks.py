"""The one written lock order: instructors by id, meetings by id, students by id. (A weekly place's term and feed revisions come last.)

FOR NO KEY UPDATE, so that foreign keys to the locked rows do not wait. SQLite has one writer: there it is a plain read.
Locked first and read after: where the wait was for a change of the row, PostgreSQL holds it against the joined rows of
before, and a meeting that has just changed its instructor would not be found.
"""

from collections.abc import Iterable
from typing import TypeVar

from django.db.models import Q, QuerySet

from accounts.models import Instructor, Student
from bookings.domain.errors import Refused
from bookings.models import Meeting

Row = TypeVar("Row", Instructor, Meeting, Student)


def lock_instructors(ids: Iterable[int]) -> dict[int, Instructor]:
    """The instructors with these ids, locked; call it first."""
    rows = _lock(Instructor.objects.all(), ids)
    return {row.pk: row for row in rows.select_related("user")}


def hold_teachers(ids: Iterable[int], students: Iterable[Student]) -> None:
    """Locks these instructors and those that the students are themselves, and reads nothing; call it first.

    What somebody gives and what she takes may not overlap.
    """
    users = [student.user_id for student in students if student.user_id is not None]
    wanted = Instructor.objects.filter(Q(pk__in=set(ids)) | Q(user__in=users)).order_by("pk")
    list(wanted.select_for_update(no_key=True).values_list("pk"))


def lock_teachers(ids: Iterable[int], students: Iterable[Student]) -> dict[int, Instructor]:
    """The same, and the instructors with these ids as they stand."""
    wanted = set(ids)
    hold_teachers(wanted, students)
    return {row.pk: row for row in Instructor.objects.filter(pk__in=wanted).select_related("user")}


def lock_meetings(ids: Iterable[int]) -> dict[int, Meeting]:
    """The meetings with these ids, locked; after instructors, before students."""
    rows = _lock(Meeting.objects.all(), ids)
    return {row.pk: row for row in rows.select_related("offering", "instructor__user")}


def lock_meeting(meeting_id: int, *, version: int | None) -> Meeting:
    """One meeting, locked likewise; Refused("stale") where it is not the version the caller read."""
    locked = lock_meetings([meeting_id])[meeting_id]
    if version is not None and locked.version != version:
        raise Refused(
            "stale", "The meeting has changed since you read it. Read it again, then decide."
        )
    return locked


def lock_students(ids: Iterable[int]) -> dict[int, Student]:
    """The students with these ids, locked; last."""
    rows = _lock(Student.objects.all(), ids)
    return {row.pk: row for row in rows.select_related("user")}


def _lock(rows: QuerySet[Row], ids: Iterable[int]) -> QuerySet[Row]:
    wanted = rows.filter(pk__in=set(ids)).order_by("pk")
    list(wanted.select_for_update(no_key=True).values_list("pk"))
    return wanted
