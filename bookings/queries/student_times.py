"""A student's time for the pure core, in one query."""

from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import Any

from django.db.models import F, QuerySet, Value

from accounts.models import Student
from bookings.domain.parties import StudentTime
from bookings.domain.student_hours import NOTHING_SAID
from bookings.domain.timeline import Period
from bookings.domain.vocabulary import Kind
from bookings.domain.weekly_costs import Hour
from bookings.models import Assessment, Booking, BusyPeriod
from bookings.models.prepared import prepared
from bookings.queries import held_time
from bookings.queries.held_time import REACH, held_bookings, labelled, marked_utc
from bookings.queries.student_hours import rows_of_said, said_of

_A_DAY = timedelta(days=1)  # a local date begins or ends within a day of the date in UTC


class _Kind(StrEnum):
    """What a row of a student's time is."""

    TAKEN = "taken"
    BUSY = "busy"
    HEARD = "heard"
    OPEN = "open"


def student_time(
    student: Student,
    since: datetime,
    until: datetime,
    *,
    ignoring: tuple[int, ...] = (),
    open_after: datetime | None = None,
    with_hours: bool = False,
) -> StudentTime:
    """A student's time over [since, until): one query.

    Meetings are those the student is held in or teaches; `ignoring` are ids of some being moved.
    Consultations that start after `open_after` count as open; without it they are not counted.
    `with_hours` reads what the family says of the week as well: for whoever compares times, since
    nothing is refused by it.
    """
    dates = ((since - _A_DAY).date(), (until + _A_DAY).date()) if with_hours else (None, None)
    rows = _rows_of(
        student.pk, student.user_id, since - REACH, since, until, ignoring, open_after, *dates
    )
    heard = [(author, note) for kind, _, _, author, note in rows if kind == _Kind.HEARD]
    heard_by, heard_in = heard[0] if heard else (None, None)
    return StudentTime(
        id=student.pk,
        time_zone=student.zone,
        adult_on=student.adult_on,
        meetings=_periods(_Kind.TAKEN, rows),
        busy=_periods(_Kind.BUSY, rows),
        heard_by=heard_by,
        heard_in=heard_in,
        open_consultations=sum(kind == _Kind.OPEN for kind, *_ in rows),
        regular=student.regular_instructor_id,
        said=said_of(rows) if with_hours else NOTHING_SAID,
    )


def hour_of(student: Student, period: Period) -> Hour:
    """What a meeting in that period costs the student; one query."""
    time = student_time(student, period.starts_at, period.ends_at, with_hours=True)
    return time.costs.of(period)


def _periods(kind: _Kind, rows: list[tuple[Any, ...]]) -> tuple[Period, ...]:
    return tuple(
        Period(marked_utc(starts_at), marked_utc(ends_at))
        for found, starts_at, ends_at, _, _ in rows
        if found == kind
    )


@prepared
def _rows_of(
    pk: int,
    user: int | None,
    reached: datetime,
    since: datetime,
    until: datetime,
    ignoring: tuple[int, ...],
    open_after: datetime | None,
    first_on: date | None,
    last_on: date | None,
) -> QuerySet[Booking, Any]:
    held = held_bookings(reached, since, until, ignoring).filter(student=pk)
    released = Assessment.objects.released().filter(student=pk)
    latest = released.order_by("-released_at", "-id").values("pk")[:1]
    heard = Assessment.objects.filter(pk__in=latest)
    columns = "released_at", F("released_at"), "author_id", "pk"
    others = [labelled(heard, _Kind.HEARD, *columns)]
    spare = Value(0), Value(0)
    if user is not None:
        live = held_time.live_meetings(reached, since, until)
        taught = live.filter(instructor__user=user)
        if ignoring:
            taught = taught.exclude(pk__in=ignoring)
        others.append(labelled(taught, _Kind.TAKEN, "starts_at", "held_until", *spare))
    # Calendars of the account, and of the student from before they had one. An OR over a join would
    # read the whole table.
    owners = [{"calendar__student": pk}]
    if user is not None:
        owners.append({"calendar__owner": user})
    for owner in owners:
        busy = BusyPeriod.objects.filter(**owner, starts_at__lt=until, ends_at__gt=since)
        others.append(labelled(busy, _Kind.BUSY, "starts_at", "ends_at", *spare))
    if open_after is not None:
        ahead = Booking.objects.of(pk).held().ahead(open_after)
        open_ones = ahead.filter(meeting__offering__kind=Kind.CONSULTATION)
        others.append(labelled(open_ones, _Kind.OPEN, "starts_at", "ends_at", *spare))
    if first_on is not None and last_on is not None:
        others += rows_of_said(pk, first_on, last_on)
    return labelled(held, _Kind.TAKEN, "starts_at", "ends_at", *spare).union(*others, all=True)
