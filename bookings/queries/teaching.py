"""Who teaches what, and the hours that instructors have published."""

from collections.abc import Collection, Iterable
from datetime import datetime
from enum import StrEnum
from typing import Any

from django.db.models import F, QuerySet, Value

from accounts.models import Instructor
from bookings.access import not_there
from bookings.domain.hours import DAY_MINUTES, Away, DatedWindow, TeachingTime, WeeklyWindow
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


def teaching_time(instructor_id: int) -> TeachingTime:
    """The instructor's published hours: one query."""
    return hours_of(_published(instructor_id))


@prepared
def _published(instructor_id: int) -> QuerySet[TeachingHours, Any]:
    first, *others = rows_of_hours((instructor_id,))
    return first.union(*others, all=True)


def rows_of_hours(ids: tuple[int, ...]) -> list[QuerySet[Any, Any]]:
    """The parts of a union that hold the published hours of these instructors.

    Each row is a kind, an owner, three instants, two numbers and a time zone. Dates stand in the
    columns of the instants, as their midnights, and minutes in those of the numbers.
    """
    weekly = TeachingHours.objects.filter(week__instructor__in=ids)
    extra = ExtraHours.objects.filter(instructor__in=ids)
    away = DaysAway.objects.filter(instructor__in=ids)
    monday, no_date = F("weekday") * Value(DAY_MINUTES), F("week__changed_at")
    windows = no_date, no_date, no_date, monday + F("opens"), monday + F("closes")
    dates = F("on"), F("on"), F("on"), "opens", "closes"
    days = F("first_on"), F("last_on"), F("last_on"), "from_minute", "to_minute"
    return [
        labelled(weekly, _Kind.WEEKLY, "week__instructor_id", *windows, "week__time_zone"),
        labelled(extra, _Kind.EXTRA, "instructor_id", *dates, "time_zone"),
        labelled(away, _Kind.AWAY, "instructor_id", *days, "time_zone"),
    ]


def hours_of(rows: Iterable[tuple[Any, ...]]) -> TeachingTime:
    """The hours of one instructor, whose rows of `rows_of_hours` these are."""
    weekly: list[WeeklyWindow] = []
    extra: list[DatedWindow] = []
    away: list[Away] = []
    for kind, _, first, last, _, opens, closes, time_zone in rows:
        if kind == _Kind.WEEKLY:
            weekday, since = divmod(opens, DAY_MINUTES)
            weekly.append(WeeklyWindow(weekday, since, closes - opens + since, time_zone))
        elif kind == _Kind.EXTRA:
            extra.append(DatedWindow(first.date(), opens, closes, time_zone))
        else:
            away.append(Away(first.date(), last.date(), time_zone, opens, closes))
    return TeachingTime(weekly=tuple(weekly), extra=tuple(extra), away=tuple(away))
