"""Instructors' time for the pure core, in a fixed number of queries."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db.models import F, QuerySet, Value

from accounts.models import Instructor
from bookings.domain.load import TAUGHT_AROUND
from bookings.domain.parties import InstructorTime
from bookings.domain.timeline import Period
from bookings.models import BusyPeriod, LoadAllowance, Meeting
from bookings.queries import held_time
from bookings.queries.held_time import REACH, held_bookings, rows_in_utc
from bookings.queries.prepared import prepared
from bookings.queries.teaching import teaching_time, zone_of_hours


@dataclass(slots=True)
class _Rows:
    """One instructor's rows by what they say of the time."""

    meetings: list[Period] = field(default_factory=list)
    taught: list[Period] = field(default_factory=list)
    busy: list[Period] = field(default_factory=list)
    allowed: list[datetime] = field(default_factory=list)

    def add(self, kind: str, starts_at: datetime, ends_at: datetime, free_at: datetime) -> None:
        """Takes in one row of `_rows_of`; `free_at` is the end of the changeover."""
        if kind == "allowed":
            self.allowed.append(starts_at)
        elif kind == "busy":
            self.busy.append(Period(starts_at, ends_at))
        else:
            self.meetings.append(Period(starts_at, free_at))
            if kind == "taught":
                self.taught.append(Period(starts_at, ends_at))


def instructors_time(
    instructors: Iterable[Instructor],
    since: datetime,
    until: datetime,
    *,
    ignoring: int | None = None,
) -> list[InstructorTime]:
    """These instructors' time for starts in [since, until): two queries.

    Meetings are read from eight days before to eight days after, as load rules ask. `ignoring` is
    the id of a meeting being moved. Lessons that an instructor takes here as a student are theirs
    too, but not taught.
    """
    instructors = list(instructors)
    ids = [row.pk for row in instructors]
    hours = teaching_time(ids)
    first, past = since, until
    since, until = since - TAUGHT_AROUND, until + TAUGHT_AROUND
    found: dict[int, _Rows] = defaultdict(_Rows)
    if ids:
        rows = _rows_of(tuple(ids), first, past, since - REACH, since, until, ignoring)
        for kind, owner, starts_at, ends_at, free_at in rows_in_utc(rows):
            found[owner].add(kind, starts_at, ends_at, free_at)
    return [
        InstructorTime(
            id=row.pk,
            time_zone=zone_of_hours(row),
            teaching=hours[row.pk],
            meetings=tuple(found[row.pk].meetings),
            busy=tuple(found[row.pk].busy),
            taught=tuple(found[row.pk].taught),
            allowed=frozenset(found[row.pk].allowed),
        )
        for row in instructors
    ]


@prepared
def _rows_of(
    ids: tuple[int, ...],
    first: datetime,
    past: datetime,
    reached: datetime,
    since: datetime,
    until: datetime,
    ignoring: int | None,
) -> QuerySet[Meeting, Any]:
    taken = held_time.live_meetings(reached, since, until).filter(instructor__in=ids).order_by()
    if ignoring is not None:
        taken = taken.exclude(pk=ignoring)
    learnt = (
        held_bookings(reached, since, until, ignoring)
        .filter(student__user__instructor__in=ids)
        .order_by()
    )
    waived = LoadAllowance.objects.filter(
        instructor__in=ids, starts_at__gte=since, starts_at__lt=until
    ).order_by()
    busy = BusyPeriod.objects.filter(
        calendar__owner__instructor__in=ids, starts_at__lt=past, ends_at__gt=first
    ).order_by()
    return taken.values_list(
        Value("taught"), "instructor_id", "starts_at", "ends_at", "held_until"
    ).union(
        learnt.values_list(
            Value("learnt"), "student__user__instructor", "starts_at", "ends_at", F("ends_at")
        ),
        waived.values_list(
            Value("allowed"), "instructor_id", "starts_at", F("starts_at"), F("starts_at")
        ),
        busy.values_list(
            Value("busy"), "calendar__owner__instructor", "starts_at", "ends_at", F("ends_at")
        ),
        all=True,
    )
