"""Solving plans beside the requests: one at a time, in a worker or a thread of its own.

Two solves, or a solve and the emails, must never wait for each other, so this work has a queue with
one worker. What it does is found in the table, so it may run twice, late, or be killed.
"""

import time
from collections.abc import Callable
from dataclasses import asdict
from datetime import datetime

import structlog

from bookings import clock, door
from bookings.domain.errors import Refused
from bookings.domain.planning.model import Progress
from bookings.domain.plans import PATIENCE_SECONDS
from bookings.domain.vocabulary import PlanKind
from bookings.models import Plan
from bookings.operations.planning import WORK
from bookings.operations.solving import claim_plan, fail_plan, keep_answer, note_progress
from bookings.queries.plans import plans_wait

log = structlog.get_logger(__name__)

NOTES_APART = 2.0
"""Seconds between two notes of a running solve."""
UNKNOWN_FAULT = "The solver failed. The fault is ours, and it has been recorded."


def solve_plans() -> int:
    """Solves every plan that waits, the oldest first. Returns how many were taken up."""
    taken = 0
    while (plan := _claimed()) is not None:
        solve_plan(plan)
        taken += 1
    return taken


def _claimed() -> Plan | None:
    now = clock.now()
    if not plans_wait(now):  # asked after every commit where there is no broker: only a read
        return None
    return door.write(lambda: claim_plan(now=now), now=now)


def solve_plan(plan: Plan) -> None:
    """Reads, solves and stores one plan that this worker holds. Nothing is locked meanwhile."""
    now = clock.now()
    try:
        work = WORK[PlanKind(plan.kind)]
        problem, seen = work.read(plan, now=now)
        seconds = float(plan.asked.get("seconds", PATIENCE_SECONDS))
        solved = work.solve(problem, seconds, _watching(plan))
    except Refused as refusal:
        _fail(plan, refusal.detail)
    except Exception:  # one failing plan does not hold up the others
        log.exception("a plan could not be solved", plan=plan.pk)
        _fail(plan, UNKNOWN_FAULT)
    else:
        at = clock.now()
        door.write(lambda: keep_answer(plan=plan, solved=solved, seen=seen, now=at), now=at)


def _fail(plan: Plan, why: str) -> None:
    now = clock.now()
    door.write(lambda: fail_plan(plan=plan, why=why, now=now), now=now)


def _watching(plan: Plan) -> Callable[[Progress], bool]:
    """Notes what the solver says every few seconds, and tells it whether to go on."""
    noted_at = time.monotonic()
    goes_on = True

    def watch(progress: Progress) -> bool:
        nonlocal noted_at, goes_on
        if goes_on and time.monotonic() - noted_at >= NOTES_APART:
            noted_at = time.monotonic()
            goes_on = _note(plan, progress, clock.now())
        return goes_on

    return watch


def _note(plan: Plan, progress: Progress, now: datetime) -> bool:
    return door.write(lambda: note_progress(plan=plan, progress=asdict(progress), now=now), now=now)
