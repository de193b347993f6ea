"""Reads of practice: the plan that counts, the ticks of a day, and the last fourteen days."""

from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property
from typing import cast

from django.db.models import Count, QuerySet

from accounts.models import Instructor, Student
from bookings.access import notes_of_instructor
from bookings.domain.practice import PracticeItem, items_of, minutes_a_day
from bookings.domain.practising import (
    DAYS_SHOWN,
    Practised,
    Step,
    days_shown,
    practised_by,
    steps_of,
    tickable_days,
)
from bookings.domain.zones import zone
from bookings.models import Assessment, PracticeTick


@dataclass(frozen=True)
class Practice:
    """A student's practice on one day of their clock.

    `plan` is the latest released note that has a plan, None where there is none. `newer` is a later
    one that has next steps and no plan: its steps count, and not the plan's. `tickable` are the
    days for which the plan can be ticked, the latest first, and `ticked` holds its ticks of the
    last 14 days as (day, item).
    """

    today: date
    plan: Assessment | None
    newer: Assessment | None
    tickable: list[date]
    ticked: frozenset[tuple[date, int]]
    practised: Practised

    @cached_property
    def steps(self) -> list[Step]:
        """The plan's items in the order of a day."""
        return steps_of(items_of(self.plan.practice)) if self.plan else []

    @cached_property
    def minutes(self) -> int:
        """The plan's minutes a day."""
        return minutes_a_day(items_of(self.plan.practice)) if self.plan else 0

    def ticked_minutes(self, on: date) -> int:
        """The minutes of this plan that are ticked for a day."""
        return sum(step.minutes for step in self.steps if (on, step.item) in self.ticked)


@dataclass(frozen=True, slots=True)
class _Ticked:
    plan: int
    on: date
    item: int
    minutes: int


def today_of(student: Student, now: datetime) -> date:
    """Today's date on the student's clock."""
    return now.astimezone(zone(student.zone)).date()


def given_on(plan: Assessment, student: Student) -> date:
    """The date on the student's clock on which a released note came with its plan."""
    released_at = cast(datetime, plan.released_at)
    return released_at.astimezone(zone(student.zone)).date()


def latest_plan(student: Student) -> Assessment | None:
    """The latest released note of the student that has a practice plan."""
    return _released(student).exclude(practice=[]).first()


def latest_items(instructor: Instructor, student: Student, *, now: datetime) -> list[PracticeItem]:
    """The student's latest plan that this instructor may read; empty without one."""
    notes = notes_of_instructor(instructor, now=now).filter(student=student)
    note = notes.exclude(practice=[]).order_by("-released_at", "-pk").first()
    return items_of(note.practice) if note is not None else []


def practised(student: Student, *, now: datetime) -> Practised:
    """The minutes ticked on each of the last 14 days, under whichever plan: one query.

    Callers check first that the reader may read the student's note.
    """
    today = today_of(student, now)
    return _practised(_ticks(student, today), today)


def days_practised(
    instructor: Instructor, students: Collection[int], on: date, *, now: datetime
) -> dict[int, int]:
    """On how many of the 14 days before a date each of these students practised: one query.

    Only ticks of plans that the instructor may read count; a student without any is left out.
    """
    plans = notes_of_instructor(instructor, now=now).filter(student__in=students).order_by()
    ticks = PracticeTick.objects.filter(
        assessment__in=plans, on__lt=on, on__gte=on - timedelta(days=DAYS_SHOWN)
    )
    by_student = ticks.order_by().values("assessment__student")
    counted = by_student.annotate(days=Count("on", distinct=True))
    return dict(counted.values_list("assessment__student", "days"))


def practice_of(student: Student, *, now: datetime) -> Practice:
    """The plan that counts today, its ticks, and the last 14 days: at most three queries."""
    today = today_of(student, now)
    latest = _released(student).exclude(practice=[], next_steps=[]).first()
    plan = latest if latest is None or latest.practice else latest_plan(student)
    newer = latest if latest is not plan else None
    ticks = _ticks(student, today)
    own = frozenset((tick.on, tick.item) for tick in ticks if plan and tick.plan == plan.pk)
    tickable = tickable_days(given_on=given_on(plan, student), today=today) if plan else []
    return Practice(today, plan, newer, tickable, own, _practised(ticks, today))


def _released(student: Student) -> QuerySet[Assessment]:
    notes = Assessment.objects.released().filter(student=student)
    return notes.select_related("author__user", "student__user")


def _practised(ticks: list[_Ticked], today: date) -> Practised:
    minutes: Counter[date] = Counter()
    for tick in ticks:
        minutes[tick.on] += tick.minutes
    return practised_by(minutes, today=today)


def _ticks(student: Student, today: date) -> list[_Ticked]:
    shown = days_shown(today)
    rows = PracticeTick.objects.filter(
        assessment__student=student, on__gte=shown[0], on__lte=shown[-1]
    ).values_list("assessment", "on", "item", "assessment__practice")
    return [_Ticked(plan, on, item, items[item]["minutes"]) for plan, on, item, items in rows]
