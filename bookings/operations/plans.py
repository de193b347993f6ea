"""Plans: ask for one, stop it, adopt it whole, discard it."""

from datetime import date, datetime
from typing import Any

from accounts.models import Instructor, User
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import PlanKind, PlanState
from bookings.models import Plan
from bookings.operations.asked_hours import ask_hours, check_answers_closed
from bookings.operations.audit import record
from bookings.operations.plan_state import lock_plan
from bookings.operations.planning import WORK


def ask_for_plan(
    *,
    actor: User,
    kind: PlanKind,
    asked: dict[str, Any],
    instructor: Instructor | None = None,
    answer_by: datetime | None = None,
    now: datetime,
) -> Plan:
    """Stores what is asked, for a worker to solve.

    `asked` holds plain values in the form of the kind (operations/planning). What can be refused at
    once is refused here, with the field that is wrong. With `answer_by` the families of a group are
    asked for their hours until then, as in `ask_hours`.
    """
    plain = {name: _plain(value) for name, value in asked.items()}
    WORK[kind].check(plain, now=now)
    plan = Plan.objects.create(
        kind=kind,
        instructor=instructor,
        asked=plain,
        answer_by=answer_by,
        made_by=actor,
        made_at=now,
    )
    ask_hours(plan, now=now)
    record(actor=actor, verb="asked for plan", thing=plan, now=now)
    return plan


def stop_plan(*, actor: User, plan: Plan, version: int | None = None, now: datetime) -> Plan:
    """Asks the worker to stop with the best answer so far. A second time changes nothing.

    Refused: "stale", "already-ended" for a plan that is solved or over.
    """
    current = lock_plan(plan, version)
    if current.state != PlanState.SOLVING:
        raise Refused("already-ended", "This plan is not being solved any more.")
    if current.stop_asked_at is None:
        current.stop_asked_at = now
        current.version += 1
        current.save(update_fields=["stop_asked_at", "version"])
        record(actor=actor, verb="stopped", thing=current, now=now)
    return current


def discard_plan(*, actor: User, plan: Plan, version: int | None = None, now: datetime) -> Plan:
    """Puts the plan aside. What it would have done is not done, and whoever was asked is told.

    Refused: "stale", "already-ended" for a plan that was adopted or discarded.
    """
    current = lock_plan(plan, version)
    if current.state in (PlanState.ADOPTED, PlanState.DISCARDED):
        raise Refused("already-ended", f"This plan was {current.state.lower()}.")
    WORK[PlanKind(current.kind)].discard(current, now=now)
    _end(current, PlanState.DISCARDED, actor, now)
    record(actor=actor, verb="discarded", thing=current, now=now)
    return current


def adopt_plan(*, actor: User, plan: Plan, version: int | None = None, now: datetime) -> Plan:
    """Does all that the plan says, or nothing.

    Every start is judged again as it stands now. Refused: "stale", "already-ended", "not-yet" for
    a plan without an answer or one whose families may still answer, "plan-outdated" with
    `conflicts`, one for each start that cannot be had any more.
    """
    current = lock_plan(plan, version)
    if current.state in (PlanState.ADOPTED, PlanState.DISCARDED):
        raise Refused("already-ended", f"This plan was {current.state.lower()}.")
    if not current.is_answered:
        raise Refused("not-yet", "This plan has no answer to adopt.")
    check_answers_closed(current)
    WORK[PlanKind(current.kind)].adopt(current, actor=actor, now=now)
    _end(current, PlanState.ADOPTED, actor, now)
    record(actor=actor, verb="adopted", thing=current, now=now)
    return current


def _plain(value: Any) -> Any:
    """Dates as JSON writes them."""
    return value.isoformat() if isinstance(value, date) else value


def _end(plan: Plan, state: PlanState, actor: User, now: datetime) -> None:
    plan.state, plan.ended_at, plan.ended_by = state, now, actor
    plan.leased_until = None
    plan.version += 1
    plan.save(update_fields=["state", "ended_at", "ended_by", "leased_until", "version"])
