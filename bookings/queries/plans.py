"""Plans as they are listed and shown."""

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any

from accounts.models import User
from bookings.domain.plans import FAMILIES_COSTS
from bookings.domain.vocabulary import PlanKind
from bookings.models import Plan, PlanQuerySet
from bookings.queries.planning import (
    cover_shown,
    exchange_shown,
    group_shown,
    timetable_shown,
    who_next_shown,
)
from bookings.queries.planning.asked_hours import answered_since
from bookings.queries.planning.versions import HOURS_READ, changed_since

MOST_COMPARED = 10
_SHOWN: Mapping[PlanKind, Callable[[Plan], Any]] = {
    PlanKind.COVER: cover_shown.shown_cover,
    PlanKind.EXCHANGE: exchange_shown.shown_exchanges,
    PlanKind.GROUP: group_shown.shown_group,
    PlanKind.TIMETABLE: timetable_shown.shown_timetable,
    PlanKind.WHO_NEXT: who_next_shown.shown_who_next,
}


def plans_wait(now: datetime) -> bool:
    """Whether a plan waits for a worker."""
    return Plan.objects.to_solve(now).exists()


def plans_listed(rows: PlanQuerySet, kind: str, state: str) -> PlanQuerySet:
    """Of these plans those of a kind and of a state, where they are named."""
    asked = {name: word for name, word in (("kind", kind), ("state", state)) if word}
    return rows.filter(**asked)


def answer_shown(plan: Plan) -> Any:
    """The answer with the people and things that it names, in the form of its kind; None without
    an answer.
    """
    return _SHOWN[PlanKind(plan.kind)](plan) if plan.answer is not None else None


def answer_read_by(plan: Plan, reader: User) -> dict[str, Any] | None:
    """The answer as plain values, without what hours cost families for anybody but an admin."""
    answer: dict[str, Any] | None = plan.answer
    if answer is None or reader.is_staff:
        return answer
    return {name: value for name, value in answer.items() if name != FAMILIES_COSTS}


def progress_read_by(plan: Plan, reader: User) -> dict[str, Any]:
    """What the solver last said: to anybody but an admin only which stage, and how long."""
    progress: dict[str, Any] = plan.progress
    if reader.is_staff:
        return progress
    return {name: progress[name] for name in ("stage", "seconds") if name in progress}


def changes_since(plan: Plan) -> list[str]:
    """What has changed since the plan was read, in sentences; nothing once it is over."""
    if not plan.is_answered:
        return []
    return [*changed_since(plan.seen), *_answered_since(plan)]


def _answered_since(plan: Plan) -> list[str]:
    """That families have answered since their hours were read."""
    read_at = plan.seen.get(HOURS_READ)
    if plan.answer_by is None or read_at is None:
        return []
    count = answered_since(plan, datetime.fromisoformat(read_at))
    members = "1 member has" if count == 1 else f"{count} members have"
    return [f"{members} answered since."] if count else []


def comparable(plans: PlanQuerySet, plan: Plan) -> list[Plan]:
    """The latest other plans of this kind that have an answer: one query."""
    others = plans.filter(kind=plan.kind, answer__isnull=False).exclude(pk=plan.pk)
    return list(others[:MOST_COMPARED])
