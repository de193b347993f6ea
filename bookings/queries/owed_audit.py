"""Audit of owed lessons: each promise has its lessons, and each owed lesson is settled once."""

from collections.abc import Iterator
from typing import Any

from django.db.models import Count, Exists, F, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from bookings.domain.vocabulary import Attendance, Ended, Standing
from bookings.models import Booking, OwedLesson, WeeklyPlace
from bookings.queries.audit_findings import Finding

_OWES = [Ended.CANCELLED_IN_TIME, Ended.CALLED_OFF, Ended.DECLINED]
_MARKS_OWE = [Attendance.ABSENT_WITH_NOTICE, Attendance.INSTRUCTOR_ABSENT]


def promises_are_kept() -> Iterator[Finding]:
    """A weekly place promises each of its lessons that was not given up, and what it owes for a
    date that it lacks.
    """
    owed = OwedLesson.objects.filter(booking=OuterRef("pk"))
    given_up = Q(ended_why__in=[Ended.LEFT, Ended.MOVED])
    left_school = Q(ended_why=Ended.CALLED_OFF) & ~Exists(owed)
    lessons = Booking.objects.filter(meeting__weekly_place=OuterRef("pk"))
    lessons = lessons.exclude(given_up).exclude(left_school)
    missing = OwedLesson.objects.filter(weekly_place=OuterRef("pk"))
    counted = WeeklyPlace.objects.annotate(
        _lessons=Coalesce(_count(lessons, "meeting__weekly_place"), 0),
        _missing=Coalesce(_count(missing, "weekly_place"), 0),
    ).exclude(promised=F("_lessons") + F("_missing"))
    rows = counted.order_by("pk").values_list("pk", "promised", "_lessons", "_missing")
    for pk, promised, lessons_found, missing_found in rows:
        told = (
            f"promises {promised} lessons, and has {lessons_found} and {missing_found} for which "
            "it has no date."
        )
        yield Finding("promise", "weekly place", pk, told)


def owed_lessons_agree() -> Iterator[Finding]:
    """What is owed follows from its lesson, and a make-up is its student's and settles it alone."""
    owes = Q(booking__ended_why__in=_OWES) | Q(
        booking__standing=Standing.HELD, booking__mark__attendance__in=_MARKS_OWE
    )
    for_nothing = OwedLesson.objects.filter(booking__isnull=False).exclude(owes)
    for pk in _ids(for_nothing):
        yield Finding("owed", "owed lesson", pk, "is owed for a lesson that leaves nothing owed.")
    others = OwedLesson.objects.filter(booking__isnull=False).exclude(booking__student=F("student"))
    for pk in _ids(others):
        yield Finding("owed", "owed lesson", pk, "is owed to another student than its lesson’s.")
    make_ups = Booking.objects.filter(makes_up__isnull=False)
    for pk in _ids(make_ups.exclude(makes_up__student=F("student"))):
        yield Finding("owed", "booking", pk, "makes up what is owed to another student.")
    for pk in _ids(make_ups.filter(makes_up__closed_at__isnull=False)):
        yield Finding("owed", "booking", pk, "makes up an owed lesson that is closed.")


def _count(rows: QuerySet[Any], by: str) -> Subquery:
    return Subquery(rows.order_by().values(by).annotate(_n=Count("pk")).values("_n"))


def _ids(rows: QuerySet[Any]) -> QuerySet[Any, int]:
    return rows.order_by("pk").values_list("pk", flat=True)
