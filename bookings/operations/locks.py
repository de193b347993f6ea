"""Row locks, taken in one order: instructors by id, meetings by id, students by id.

The term of a weekly place, accounts and feeds come after them. The locks are FOR NO KEY UPDATE, so
inserts that refer to a locked row do not wait. SQLite has one writer, so there a lock is a plain
read.

Rows are locked first and read afterwards. One query for both would go wrong after a wait for a
change: PostgreSQL compares the changed row with joined rows from before the change, and would not
find a meeting whose instructor has just changed.
"""

from collections.abc import Callable, Iterable
from typing import Any, TypeVar

from django.db.models import Q, QuerySet

from accounts.models import Instructor, Student, User
from bookings.models import Meeting
from bookings.models.prepared import prepared
from bookings.operations.versions import check_version

Row = TypeVar("Row", Instructor, Meeting, Student)


def lock_instructors(ids: Iterable[int]) -> dict[int, Instructor]:
    """The instructors with these ids, locked. Call this first."""
    rows = _lock(_instructors, Instructor.objects.all(), ids)
    return {row.pk: row for row in rows.select_related("user")}


def hold_teachers(ids: Iterable[int], students: Iterable[Student]) -> None:
    """Locks these instructors, and any of the students who teach too. Call this first.

    The lessons that somebody gives and takes may not overlap.
    """
    users = tuple(student.user_id for student in students if student.user_id is not None)
    wanted = tuple(ids)
    if wanted or users:
        _teachers(wanted, users)


def lock_teachers(ids: Iterable[int], students: Iterable[Student]) -> dict[int, Instructor]:
    """Locks as `hold_teachers` and returns the instructors with these ids."""
    wanted = set(ids)
    hold_teachers(wanted, students)
    return {row.pk: row for row in Instructor.objects.filter(pk__in=wanted).select_related("user")}


def lock_meetings(ids: Iterable[int]) -> dict[int, Meeting]:
    """The meetings with these ids, locked. Call this after instructors and before students."""
    rows = _lock(_meetings, Meeting.objects.all(), ids)
    return {row.pk: row for row in rows.select_related("offering", "instructor__user")}


def lock_meeting(meeting_id: int, *, version: int | None) -> Meeting:
    """One meeting, locked as by `lock_meetings`. Refused("stale") as in `check_version`."""
    locked = lock_meetings([meeting_id])[meeting_id]
    check_version(locked, version)
    return locked


def lock_students(ids: Iterable[int]) -> dict[int, Student]:
    """The students with these ids, locked. Call this last."""
    rows = _lock(_students, Student.objects.all(), ids)
    return {row.pk: row for row in rows.select_related("user")}


def lock_admins() -> None:
    """All admins' accounts, by id. What two admins do at once that must not be done twice waits
    here. Call this after students.
    """
    admins = User.objects.filter(is_staff=True).order_by("pk")
    list(admins.select_for_update(no_key=True).values_list("pk"))


def _lock(
    lock: Callable[[tuple[int, ...]], object], rows: QuerySet[Row], ids: Iterable[int]
) -> QuerySet[Row]:
    wanted = tuple(set(ids))
    if wanted:
        lock(wanted)
    return rows.filter(pk__in=wanted).order_by("pk")


@prepared
def _teachers(ids: tuple[int, ...], users: tuple[int, ...]) -> QuerySet[Instructor, Any]:
    return _locking(Instructor.objects.filter(Q(pk__in=ids) | Q(user__in=users)))


@prepared
def _instructors(ids: tuple[int, ...]) -> QuerySet[Instructor, Any]:
    return _locking(Instructor.objects.filter(pk__in=ids))


@prepared
def _meetings(ids: tuple[int, ...]) -> QuerySet[Meeting, Any]:
    return _locking(Meeting.objects.filter(pk__in=ids))


@prepared
def _students(ids: tuple[int, ...]) -> QuerySet[Student, Any]:
    return _locking(Student.objects.filter(pk__in=ids))


def _locking(rows: QuerySet[Row]) -> QuerySet[Row, Any]:
    return rows.order_by("pk").select_for_update(no_key=True).values_list("pk")
