"""Who teaches what, and the hours that instructors have published."""

from collections import defaultdict
from collections.abc import Collection, Sequence
from datetime import datetime
from enum import StrEnum
from typing import Any

from django.db.models import DateField, F, QuerySet, Value

from accounts.models import Instructor
from bookings.access import not_there
from bookings.domain.hours import Away, DatedWindow, TeachingTime, WeeklyWindow
from bookings.models import DaysAway, ExtraHours, Offering, Teaches, TeachingHours, TeachingWeek
from bookings.models.prepared import prepared
from bookings.queries.held_time import is_taken, labelled


class _Kind(StrEnum):
    """What a row of published hours is."""

    WEEKLY = "weekly"
    EXTRA = "extra"
    AWAY = "away"


def instructors_for(
    offering: Offering, level: int, instructor_id: int | None = None
) -> list[Instructor]:
    """The instructors who teach the offering now at that level, by id."""
    rows = (
        Instructor.objects.teaching()
        .filter(
            user__is_active=True,
            teaches__offering=offering,
            teaches__lowest_level__lte=level,
            teaches__highest_level__gte=level,
        )
        .select_related("user", "week")
    )
    if instructor_id is not None:
        rows = rows.filter(pk=instructor_id)
    return list(rows.order_by("pk"))


def bands_taught(
    offering: Offering, instructors: Collection[Instructor]
) -> dict[int, tuple[int, int]]:
    """The lowest and the highest level to which each of these teaches the offering, by id."""
    rows = Teaches.objects.filter(offering=offering, instructor__in=instructors)
    levels = rows.values_list("instructor", "lowest_level", "highest_level")
    return {pk: (lowest, highest) for pk, lowest, highest in levels}


def levels_taught(offering: Offering, instructor: Instructor) -> tuple[int, int] | None:
    """The lowest and the highest level to which they teach the offering; None if they do not."""
    rows = Teaches.objects.filter(offering=offering, instructor=instructor)
    return rows.values_list("lowest_level", "highest_level").first()


def teacher(instructor_id: int) -> Instructor:
    """An instructor who teaches now; Refused("not-found") otherwise."""
    found = _teachers().filter(pk=instructor_id).first()
    if found is None:
        raise not_there()
    return found


def teacher_between(
    instructor_id: int, since: datetime, until: datetime
) -> tuple[Instructor, bool]:
    """An instructor who teaches now, and whether a live meeting of theirs lies in [since, until).

    One query for both. Refused("not-found") as in `teacher`.
    """
    rows = _teachers().annotate(seems_taken=is_taken(since, until))
    found = rows.filter(pk=instructor_id).first()
    if found is None:
        raise not_there()
    return found, found.seems_taken


def _teachers() -> QuerySet[Instructor]:
    return Instructor.objects.teaching().select_related("user", "week")


def week_of(instructor: Instructor) -> TeachingWeek:
    """The instructor's week; an unsaved empty one, version 0, if they have published none."""
    found = TeachingWeek.objects.filter(instructor=instructor).prefetch_related("windows").first()
    return found or TeachingWeek(instructor=instructor, time_zone=instructor.user.time_zone)


def zone_of_hours(instructor: Instructor) -> str:
    """The IANA name of the clock of the published hours, or of the instructor's own clock."""
    week = getattr(instructor, "week", None)
    return str(week.time_zone) if week is not None else instructor.user.zone


def keeps_hours_whole(instructor: Instructor) -> bool:
    """Whether lists keep the instructor's hours whole, as domain.whole_hours says."""
    week = getattr(instructor, "week", None)
    return week is not None and week.keeps_hours_whole


def teaching_time(ids: Sequence[int]) -> dict[int, TeachingTime]:
    """The published hours of each of these instructors: one query."""
    weekly: dict[int, list[WeeklyWindow]] = defaultdict(list)
    extra: dict[int, list[DatedWindow]] = defaultdict(list)
    away: dict[int, list[Away]] = defaultdict(list)
    rows = _published(tuple(ids)) if ids else []
    for kind, owner, first_on, last_on, weekday, opens, closes, time_zone in rows:
        if kind == _Kind.WEEKLY:
            weekly[owner].append(WeeklyWindow(weekday, opens, closes, str(time_zone)))
        elif kind == _Kind.EXTRA:
            extra[owner].append(DatedWindow(first_on, opens, closes, str(time_zone)))
        else:
            away[owner].append(Away(first_on, last_on, str(time_zone), opens, closes))
    return {
        i: TeachingTime(weekly=tuple(weekly[i]), extra=tuple(extra[i]), away=tuple(away[i]))
        for i in ids
    }


@prepared
def _published(ids: tuple[int, ...]) -> QuerySet[ExtraHours, Any]:
    nothing, no_date = Value(0), Value(None, DateField())
    extra = ExtraHours.objects.filter(instructor__in=ids)
    away = DaysAway.objects.filter(instructor__in=ids)
    weekly = TeachingHours.objects.filter(week__instructor__in=ids)
    dated = ("instructor_id", "on", F("on"), nothing, "opens", "closes", "time_zone")
    days = (
        "instructor_id",
        "first_on",
        "last_on",
        nothing,
        "from_minute",
        "to_minute",
        "time_zone",
    )
    owner, time_zone = "week__instructor_id", "week__time_zone"
    windows = (owner, no_date, no_date, "weekday", "opens", "closes", time_zone)
    # The weekly windows come last: PostgreSQL takes the type of an empty column from earlier rows.
    return labelled(extra, _Kind.EXTRA, *dated).union(
        labelled(away, _Kind.AWAY, *days), labelled(weekly, _Kind.WEEKLY, *windows), all=True
    )
