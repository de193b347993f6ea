"""A plan as it stands under its lock: read, and set back to be solved."""

from bookings.domain.vocabulary import PlanState
from bookings.models import Plan
from bookings.operations.versions import check_version


def lock_plan(plan: Plan, version: int | None) -> Plan:
    """The plan, locked. Two admins who act on one plan wait for each other here."""
    current = Plan.objects.select_for_update(no_key=True).get(pk=plan.pk)
    check_version(current, version)
    return current


def solve_again(plan: Plan) -> None:
    """Has a locked plan solved anew, since what it was read from has changed.

    A worker that holds it is taken for dead, so that it does not store what it read before.
    """
    if plan.is_answered or plan.state == PlanState.FAILED:
        plan.attempts = 0
    elif plan.leased_until is not None:
        plan.attempts += 1
    plan.state, plan.answer, plan.gap, plan.failure = PlanState.SOLVING, None, None, ""
    plan.progress, plan.solved_at, plan.leased_until = {}, None, None
    plan.stop_asked_at = None
    plan.version += 1
    plan.save()
