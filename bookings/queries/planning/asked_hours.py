"""The hours that a plan asks the families of a group for: kept as values, read by the plan.

A plan that asks reads nothing else of a member's week, so that what a family says after the answers
have closed cannot change it.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import QuerySet

from accounts.models import Student
from bookings.domain.student_hours import SaidHours, WishedWindow
from bookings.domain.vocabulary import Wish
from bookings.models import AskedHours, Plan, StudentWeek
from bookings.queries.student_hours import said_in


@dataclass(frozen=True, slots=True)
class Answers:
    """How many members' families a plan asks for hours, and how many have said them."""

    asked: int
    answered: int


def kept_week(week: StudentWeek) -> dict[str, Any]:
    """What is said of a week as plain values: `windows` of (weekday, opens, closes, wish), `school`
    and `is_presumed` as in SaidHours.
    """
    said = said_in(week)
    return {
        "windows": [[row.weekday, row.opens, row.closes, row.wish.value] for row in said.windows],
        "school": said.school,
        "is_presumed": said.is_presumed,
    }


def hours_kept_for(plan: Plan) -> dict[int, SaidHours]:
    """What each member's family has said for this plan, by student and without terms: one query.

    Empty for a plan that asks nobody.
    """
    return {row.student_id: _said(row.said) for row in plan.asked_hours.all()}


def _said(kept: dict[str, Any]) -> SaidHours:
    windows = tuple(
        WishedWindow(weekday, opens, closes, Wish(wish))
        for weekday, opens, closes, wish in kept["windows"]
    )
    school = kept["school"]
    return SaidHours(windows, tuple(school) if school else None, kept["is_presumed"])


def asked_of(student: Student) -> list[AskedHours]:
    """What the student's family is or was asked for plans that nobody has decided yet, the next to
    close first: one query.
    """
    rows = AskedHours.objects.filter(student=student, plan__in=Plan.objects.asking())
    return list(rows.select_related("plan").order_by("plan__answer_by", "pk"))


def unanswered(now: datetime) -> QuerySet[AskedHours]:
    """What no family has answered yet and still can."""
    still_open = Plan.objects.asking().filter(answer_by__gt=now, closed_at__isnull=True)
    return AskedHours.objects.filter(plan__in=still_open, answered_at__isnull=True)


def is_open(asked: AskedHours, now: datetime) -> bool:
    """Whether what the family says now still counts for the plan."""
    plan = asked.plan
    return plan.closed_at is None and plan.answer_by is not None and now < plan.answer_by


def answers_count(plan: Plan) -> Answers:
    """How many members were asked for: a query, unless `plans_of` has read the plan."""
    rows: Iterable[AskedHours] = plan.asked_hours.all()
    answered = [row.answered_at is not None for row in rows]
    return Answers(len(answered), sum(answered))


def answered_since(plan: Plan, read_at: datetime) -> int:
    """How many members' families have answered after the plan was read: one query."""
    return AskedHours.objects.filter(plan=plan, answered_at__gt=read_at).count()
