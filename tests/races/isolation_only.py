"""A server for the controls: PostgreSQL's SERIALIZABLE as the only guard of an instructor's time.

The real application, but no parent row is locked before the rule reads, every transaction is
SERIALIZABLE, and the rule asks the database for overlapping meetings through a GiST index. The
controls drop the EXCLUDE constraint and make that index. The instructor of a round is newer than
all that are stored, so the index has no leaf to remember the question by, and two sessions that
have both seen nothing both commit. Only chance would show it where many are about, for who reads a
page that another writes meanwhile is noticed. So this server has two threads, which look, then
write one after the other, then go on.
"""

from config.wsgi import application

# isort: split
# The applications are loaded by now.
import threading
from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from typing import Any

from django.db import connection, connections
from django.db.models.signals import post_save
from django.dispatch import receiver
from psycopg import IsolationLevel

from accounts.models import Instructor, Student
from bookings.domain.slots import InstructorTime, StudentTime
from bookings.domain.timeline import Period
from bookings.models import Booking, Meeting
from bookings.operations import booking, starts
from bookings.queries import instructor_times
from tests.races import (
    blind,
)  # the ORM's own read of taken periods goes: what follows takes its place

# A number that is no bigint would not lead into the index: the meetings of all instructors in those
# days would be read, and remembered by pages that the next meeting is written to.
OVERLAPPING = """
    SELECT starts_at, held_until FROM bookings_meeting
    WHERE (instructor_id + 0) = %s::bigint AND tstzrange(starts_at, held_until) && tstzrange(%s, %s)
        AND status <> 'CANCELLED' AND NOT is_flagged
"""

# Two threads that have looked; the first of them has written its meeting; both have written all
# that the other's reads could meet.
_written = threading.Event()
_looked, _done = threading.Barrier(2, action=_written.clear), threading.Barrier(2)
_mine = threading.local()


def _meet(barrier: threading.Barrier) -> int | None:
    """Which of the two this thread is, 0 or 1; None where nobody else comes within two seconds."""
    try:
        return barrier.wait(timeout=2)
    except threading.BrokenBarrierError:
        barrier.reset()
        return None


def _saw_nothing() -> None:
    _mine.turn = _meet(_looked)
    if _mine.turn == 1:
        _written.wait(timeout=2)


@receiver(post_save, sender=Meeting)
def _meeting_is_written(**_: Any) -> None:
    if getattr(_mine, "turn", None) == 0:
        _written.set()


@receiver(post_save, sender=Booking)
def _booking_is_written(**_: Any) -> None:
    if getattr(_mine, "turn", None) is not None:
        _mine.turn = None
        _meet(_done)


def instructors_time(
    people: Iterable[Instructor], since: datetime, until: datetime, **more: Any
) -> list[InstructorTime]:
    """The same with the meetings that overlap [since, until) by the index on periods."""
    found = []
    for time in instructor_times.instructors_time(people, since, until, **more):
        with connection.cursor() as cursor:
            cursor.execute(OVERLAPPING, [time.id, since, until])
            meetings = tuple(
                Period(starts_at, held_until) for starts_at, held_until in cursor.fetchall()
            )
        if not meetings:
            _saw_nothing()
        found.append(replace(time, meetings=meetings))
    return found


def student_time(student: Student, *stretch: datetime, **more: Any) -> StudentTime:
    """Nothing of their own is in the way.

    What they hold is not asked: students side by side share a page of its index, and the database
    would then abort one of two for a conflict that has nothing to do with the instructor's time.
    """
    return StudentTime(
        id=student.pk, time_zone=student.zone, adult_on=student.adult_on, meetings=()
    )


# Where the planner reads the whole table instead of the index, the database remembers the whole
# table and notices every write.
connections.settings["default"]["OPTIONS"] |= {
    "isolation_level": IsolationLevel.SERIALIZABLE,
    "options": "-c enable_seqscan=off",
}
starts.instructors_time = instructors_time
starts.student_time = student_time
booking.hold_teachers = lambda ids, students: None

__all__ = ["application", "blind"]
