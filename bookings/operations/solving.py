"""What a worker writes of the plan that it solves. One that was taken for dead writes nothing."""

from datetime import datetime
from typing import Any

from bookings.domain.plans import LEASE, MOST_ATTEMPTS, Solved
from bookings.domain.vocabulary import PlanState
from bookings.models import Plan

INTERRUPTED = "The solver was interrupted several times. Ask again, for a smaller plan."


def claim_plan(*, now: datetime) -> Plan | None:
    """The oldest plan that waits, held for this worker; None if there is none.

    One whose workers have died MOST_ATTEMPTS times has failed, and the next is taken.
    """
    for plan in Plan.objects.to_solve(now).select_for_update(no_key=True):
        if plan.attempts >= MOST_ATTEMPTS:
            _fail(plan, INTERRUPTED, now)
            continue
        plan.attempts += 1
        plan.leased_until = now + LEASE
        plan.save(update_fields=["attempts", "leased_until"])
        return plan
    return None


def note_progress(*, plan: Plan, progress: dict[str, Any], now: datetime) -> bool:
    """Stores what the solver says of itself and holds the plan for longer.

    False where the solver has to stop: somebody asked for it, or the plan is no longer this
    worker's.
    """
    held = _held(plan)
    changed = held.update(progress=progress, leased_until=now + LEASE)
    return changed == 1 and not held.filter(stop_asked_at__isnull=False).exists()


def keep_answer(*, plan: Plan, solved: Solved, seen: dict[str, Any], now: datetime) -> None:
    """Stores the answer, and what was read for it."""
    current = _held(plan).select_for_update(no_key=True).first()
    if current is None:
        return
    current.state = PlanState.STOPPED if solved.is_stopped else PlanState.READY
    current.answer, current.gap, current.seen = solved.answer, solved.gap, seen
    current.solved_at, current.leased_until = now, None
    current.version += 1
    current.save()


def fail_plan(*, plan: Plan, why: str, now: datetime) -> None:
    """Notes that there is no answer, and why."""
    current = _held(plan).select_for_update(no_key=True).first()
    if current is not None:
        _fail(current, why, now)


def _held(plan: Plan) -> Any:
    """The plan, if this worker still holds it and it is still to be solved."""
    return Plan.objects.filter(pk=plan.pk, state=PlanState.SOLVING, attempts=plan.attempts)


def _fail(plan: Plan, why: str, now: datetime) -> None:
    plan.state, plan.failure, plan.leased_until = PlanState.FAILED, why[:300], None
    plan.solved_at = now
    plan.version += 1
    plan.save(update_fields=["state", "failure", "leased_until", "solved_at", "version"])
