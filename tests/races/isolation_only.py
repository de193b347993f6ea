"""A server for the controls: PostgreSQL's SERIALIZABLE as the only guard of an instructor's time.

The real application, but no parent row is locked before the rule reads, every transaction is SERIALIZABLE, and the rule asks
the database for overlapping meetings through a GiST index. The controls drop the EXCLUDE constraint and make that index.
Where the period asked for lies outside all that is stored, the index has no leaf to remember the question by, so sessions
that have all seen nothing all commit. They wait for each other after they have looked, for otherwise only chance would show it.
"""

from config.wsgi import application

# isort: split
# The applications are loaded by now.
import threading
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from typing import Any

from django.db import connection, connections
from psycopg import IsolationLevel

from accounts.models import Instructor, Student
from bookings.domain.slots import InstructorTime, StudentTime
from bookings.domain.timeline import Period
from bookings.operations import booking
from bookings.queries import teaching
from tests.races import blind  # the ORM's own read of taken periods goes: what follows takes its place

OVERLAPPING = """
    SELECT starts_at, held_until FROM bookings_meeting
    WHERE (instructor_id + 0) = %s AND tstzrange(starts_at, held_until) && tstzrange(%s, %s) AND status <> 'CANCELLED' AND NOT is_flagged
"""

_SESSIONS = threading.Barrier(4)


def _together() -> None:
    """Return once four threads of this process have seen nothing in the way, or two seconds later where fewer come."""
    with suppress(threading.BrokenBarrierError):
        _SESSIONS.wait(timeout=2)
    if _SESSIONS.broken:
        _SESSIONS.reset()


def instructors_time(people: Iterable[Instructor], since: datetime, until: datetime, **more: Any) -> list[InstructorTime]:
    """The same with the meetings that overlap [since, until) by the index on periods."""
    found = []
    for time in teaching.instructors_time(people, since, until, **more):
        with connection.cursor() as cursor:
            cursor.execute(OVERLAPPING, [time.id, since, until])
            meetings = tuple(Period(starts_at, held_until) for starts_at, held_until in cursor.fetchall())
        if not meetings:
            _together()
        found.append(replace(time, meetings=meetings))
    return found


def student_time(student: Student, *stretch: datetime, **more: Any) -> StudentTime:
    """Nothing of her own is in the way. What she holds is not asked: students side by side share a page of its index, and the
    database would then abort one of two for a conflict that has nothing to do with the instructor's time."""
    return StudentTime(id=student.pk, time_zone=student.zone, adult_on=student.adult_on, meetings=())


connections.settings["default"]["OPTIONS"]["isolation_level"] = IsolationLevel.SERIALIZABLE
booking.instructors_time = instructors_time
booking.student_time = student_time
booking.hold_teachers = lambda ids, students: None

__all__ = ["application", "blind"]
