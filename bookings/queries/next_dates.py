"""The next date of a student with one instructor: starts to book at once, or to propose."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from accounts.models import Instructor, Student
from bookings.domain.proposed_times import MOST_TIMES, without_lead
from bookings.domain.slots import Slot
from bookings.domain.zones import zone
from bookings.models import Meeting, Offering
from bookings.queries.policies import policy_in_force
from bookings.queries.slots import Found, slots_for

_BEFORE, _AFTER = timedelta(days=3), timedelta(days=4)


def next_dates(
    *, student: Student, offering: Offering, instructor: Instructor, around: datetime, now: datetime
) -> Found:
    """Up to three starts in the week around an instant, each on another day, by start.

    Of each day it is the one that suits best; the days nearest to `around` come first. No lead time
    binds them, because the school books or proposes them. At most seven queries.
    """
    found = starts_between(
        student=student,
        offering=offering,
        instructor=instructor,
        since=around - _BEFORE,
        until=around + _AFTER,
        now=now,
    )
    best: dict[object, Slot] = {}
    for slot in found.slots:
        day = slot.starts_at.astimezone(zone(student.zone)).date()
        if day not in best or slot.fit > best[day].fit:
            best[day] = slot
    nearest = sorted(best.values(), key=lambda slot: abs(slot.starts_at - around))
    return replace(found, slots=sorted(nearest[:MOST_TIMES], key=lambda slot: slot.starts_at))


def starts_between(
    *,
    student: Student,
    offering: Offering,
    instructor: Instructor,
    since: datetime,
    until: datetime,
    moving: Meeting | None = None,
    offerings: Sequence[Offering] | None = None,
    now: datetime,
) -> Found:
    """Every start in [since, until) that this instructor may book or propose, without lead time."""
    return slots_for(
        offering=offering,
        student=student,
        instructor_id=instructor.pk,
        since=max(now, since),
        until=max(now, until),
        policy=without_lead(policy_in_force(now).rules()),
        moving=moving,
        offerings=offerings,
        now=now,
    )
