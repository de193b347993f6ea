"""Instructors' time for the pure core, in one query."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import Any

from django.db.models import CharField, F, IntegerField, QuerySet, Value

from accounts.models import Instructor
from bookings.domain.load import TAUGHT_AROUND
from bookings.domain.openings import WHOLE_DAY
from bookings.domain.parties import InstructorTime
from bookings.domain.timeline import Period
from bookings.models import BusyPeriod, LoadAllowance, Meeting
from bookings.models.prepared import prepared
from bookings.queries import held_time
from bookings.queries.held_time import REACH, held_bookings, labelled, rows_in_utc
from bookings.queries.teaching import (
    hours_of,
    keeps_hours_whole,
    rows_of_hours,
    zone_of_hours,
)


class _Kind(StrEnum):
    """What a row of an instructor's time is, beside the published hours."""

    TAUGHT = "taught"
    LEARNT = "learnt"
    ALLOWED = "allowed"
    BUSY = "busy"


# A look-up of an enum costs as much as the rest of a row.
_TAUGHT, _LEARNT = _Kind.TAUGHT.value, _Kind.LEARNT.value
_ALLOWED, _BUSY = _Kind.ALLOWED.value, _Kind.BUSY.value


@dataclass(slots=True)
class _Rows:
    """One instructor's rows by what they say of the time."""

    meetings: list[Period] = field(default_factory=list)
    taught: list[Period] = field(default_factory=list)
    busy: list[Period] = field(default_factory=list)
    allowed: list[datetime] = field(default_factory=list)
    hours: list[tuple[Any, ...]] = field(default_factory=list)


def instructors_time(
    instructors: Iterable[Instructor],
    since: datetime,
    until: datetime,
    *,
    ignoring: tuple[int, ...] = (),
) -> list[InstructorTime]:
    """These instructors' time for starts in [since, until): one query.

    Meetings are read from eight days before to eight days after, as load rules ask, and busy times
    for the whole local days, as a packed grid and lessons lost ask. `ignoring` are ids of meetings
    being moved. Lessons that an instructor takes here as a student are theirs
    too, but not taught.
    """
    instructors = list(instructors)
    ids = [row.pk for row in instructors]
    first, past = since - WHOLE_DAY, until + WHOLE_DAY
    since, until = since - TAUGHT_AROUND, until + TAUGHT_AROUND
    rows = _rows_of(tuple(ids), first, past, since - REACH, since, until, ignoring) if ids else []
    found = _by_owner(rows)
    return [
        InstructorTime(
            id=row.pk,
            time_zone=zone_of_hours(row),
            teaching=hours_of(found[row.pk].hours),
            meetings=tuple(found[row.pk].meetings),
            busy=tuple(found[row.pk].busy),
            taught=tuple(found[row.pk].taught),
            allowed=frozenset(found[row.pk].allowed),
            keeps_hours_whole=keeps_hours_whole(row),
        )
        for row in instructors
    ]


def _by_owner(rows: list[tuple[Any, ...]]) -> dict[int, _Rows]:
    """The rows of each instructor, by id. A search reads ten thousand: most are meetings taught."""
    found: dict[int, _Rows] = defaultdict(_Rows)
    period = Period._make  # a constraint of the database keeps the ends of meetings in order
    for row in rows_in_utc(rows):
        kind, owner, starts_at, ends_at, free_at, _, _, _ = row
        own = found[owner]
        if kind == _TAUGHT:
            own.meetings.append(period((starts_at, free_at)))
            own.taught.append(period((starts_at, ends_at)))
        elif kind == _LEARNT:
            own.meetings.append(Period(starts_at, free_at))
        elif kind == _BUSY:
            own.busy.append(Period(starts_at, ends_at))
        elif kind == _ALLOWED:
            own.allowed.append(starts_at)
        else:
            own.hours.append(row)
    return found


@prepared
def _rows_of(
    ids: tuple[int, ...],
    first: datetime,
    past: datetime,
    reached: datetime,
    since: datetime,
    until: datetime,
    ignoring: tuple[int, ...],
) -> QuerySet[Meeting, Any]:
    taught = held_time.live_meetings(reached, since, until).filter(instructor__in=ids)
    if ignoring:
        taught = taught.exclude(pk__in=ignoring)
    held = held_bookings(reached, since, until, ignoring)
    learnt = held.filter(student__user__instructor__in=ids)
    learner = "student__user__instructor"
    allowed = LoadAllowance.objects.filter(
        instructor__in=ids, starts_at__gte=since, starts_at__lt=until
    )
    owner = "calendar__owner__instructor"
    busy = BusyPeriod.objects.filter(
        calendar__owner__instructor__in=ids, starts_at__lt=past, ends_at__gt=first
    )
    start, end = "starts_at", "ends_at"
    nothing = Value(None, IntegerField())
    spare = nothing, nothing, Value(None, CharField())
    # The hours come second: PostgreSQL takes the type of a column from the first two parts.
    return labelled(taught, _Kind.TAUGHT, "instructor_id", start, end, "held_until", *spare).union(
        *rows_of_hours(ids),
        labelled(learnt, _Kind.LEARNT, learner, start, end, F(end), *spare),
        labelled(allowed, _Kind.ALLOWED, "instructor_id", start, F(start), F(start), *spare),
        labelled(busy, _Kind.BUSY, owner, start, end, F(end), *spare),
        all=True,
    )
