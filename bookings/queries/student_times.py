"""A student's time for the pure core, in one query."""

from datetime import datetime
from typing import Any

from django.db.models import F, QuerySet, Value

from accounts.models import Student
from bookings.domain.parties import StudentTime
from bookings.domain.timeline import Period
from bookings.domain.vocabulary import Kind, NoteState
from bookings.models import LIVE, Assessment, Booking, BusyPeriod
from bookings.queries import held_time
from bookings.queries.held_time import REACH, held_bookings, marked_utc
from bookings.queries.prepared import prepared


def student_time(
    student: Student,
    since: datetime,
    until: datetime,
    *,
    ignoring: int | None = None,
    open_after: datetime | None = None,
) -> StudentTime:
    """A student's time over [since, until): one query.

    Meetings are those the student is held in or teaches; `ignoring` is the id of one being moved.
    Consultations that start after `open_after` count as open; without it they are not counted.
    """
    rows = _rows_of(student.pk, student.user_id, since - REACH, since, until, ignoring, open_after)
    heard = [(author, note) for kind, _, _, author, note in rows if kind == "heard"]
    heard_by, heard_in = heard[0] if heard else (None, None)
    return StudentTime(
        id=student.pk,
        time_zone=student.zone,
        adult_on=student.adult_on,
        meetings=_periods("taken", rows),
        busy=_periods("busy", rows),
        heard_by=heard_by,
        heard_in=heard_in,
        open_consultations=sum(kind == "open" for kind, *_ in rows),
    )


def _periods(kind: str, rows: list[tuple[Any, ...]]) -> tuple[Period, ...]:
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
    ignoring: int | None,
    open_after: datetime | None,
) -> QuerySet[Booking, Any]:
    held = held_bookings(reached, since, until, ignoring).filter(student=pk).order_by()
    latest = (
        Assessment.objects.filter(student=pk, state=NoteState.RELEASED)
        .order_by("-released_at", "-id")
        .values("pk")[:1]
    )
    heard = Assessment.objects.filter(pk__in=latest).order_by()
    others: list[Any] = [
        heard.values_list(Value("heard"), "released_at", F("released_at"), "author_id", "pk")
    ]
    spare = Value(0), Value(0)
    if user is not None:
        live = held_time.live_meetings(reached, since, until)
        taught = live.filter(instructor__user=user).order_by()
        if ignoring is not None:
            taught = taught.exclude(pk=ignoring)
        others.append(taught.values_list(Value("taken"), "starts_at", "held_until", *spare))
    # Calendars of the account, and of the student from before they had one. An OR over a join would
    # read the whole table.
    owners = [{"calendar__student": pk}]
    if user is not None:
        owners.append({"calendar__owner": user})
    for owner in owners:
        busy = BusyPeriod.objects.filter(**owner, starts_at__lt=until, ends_at__gt=since)
        others.append(busy.order_by().values_list(Value("busy"), "starts_at", "ends_at", *spare))
    if open_after is not None:
        ahead = Booking.objects.filter(student=pk, standing__in=LIVE, starts_at__gt=open_after)
        open_ones = ahead.filter(meeting__offering__kind=Kind.CONSULTATION).order_by()
        others.append(open_ones.values_list(Value("open"), "starts_at", "ends_at", *spare))
    return held.values_list(Value("taken"), "starts_at", "ends_at", *spare).union(*others, all=True)
