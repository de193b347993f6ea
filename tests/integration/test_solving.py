"""How a plan is solved: claimed, watched, stopped, kept; and what a dead worker leaves behind."""

from datetime import timedelta

import pytest

from bookings import solving
from bookings.domain.planning.model import Progress
from bookings.domain.plans import LEASE, MOST_ATTEMPTS
from bookings.models import Plan
from bookings.operations.plans import stop_plan
from bookings.operations.solving import INTERRUPTED, claim_plan, keep_answer, note_progress
from tests import cast
from tests.school.plans import ASKED_AT, DECIDED_AT, PlanningSchool

pytestmark = pytest.mark.django_db


@pytest.fixture
def school(monkeypatch):
    """The clock of the solver stands at ASKED_AT."""
    monkeypatch.setattr("bookings.clock.now", lambda: ASKED_AT)
    return PlanningSchool()


def test_a_plan_waits_for_a_worker_and_is_then_ready(school):
    """Asking writes one row; a worker reads the hours, solves, and keeps the answer with its
    proof.
    """
    plan = school.ask()
    assert (plan.state, plan.answer) == ("SOLVING", None)
    assert solving.solve_plans() == 1
    plan.refresh_from_db()
    assert (plan.state, plan.gap, plan.failure) == ("READY", 0, "")
    assert plan.seen[f"week {school.ilse.pk}"] == 1
    assert solving.solve_plans() == 0


def test_the_solver_is_told_to_stop(school):
    """Somebody asks for it; the next note of the worker says so. Asking again changes nothing."""
    plan = school.ask()
    claimed = claim_plan(now=ASKED_AT)
    said = {"stage": "placed", "value": 1, "bound": 3, "seconds": 2}
    assert note_progress(plan=claimed, progress=said, now=ASKED_AT)
    stopped = school.decide(stop_plan, plan)
    assert school.decide(stop_plan, plan).version == stopped.version
    assert not note_progress(plan=claimed, progress=said, now=ASKED_AT)


def test_a_stopped_solve_keeps_the_best_so_far(school, monkeypatch):
    """It is STOPPED, and can be adopted all the same."""
    monkeypatch.setattr(solving, "NOTES_APART", -1.0)
    monkeypatch.setattr(solving, "_note", lambda *_: False)
    dates = {"first_on": "2027-02-01", "last_on": "2027-03-28", "meetings": 6}
    extra = [
        cast.make_student(f"Member {i}", zone)
        for i, zone in enumerate(
            ["Asia/Tokyo", "America/Los_Angeles", "Europe/Berlin", "America/Sao_Paulo"]
        )
    ]
    plan = school.solved(members=[school.oona, school.noor, school.asha, *extra], **dates)
    assert plan.state in ("STOPPED", "READY")  # a very quick solve has nothing to stop
    assert len(plan.answer["meetings"]) == 6


def test_a_plan_whose_worker_died_is_taken_up_again(school):
    """After the lease; what the dead worker would still write is not kept."""
    school.ask()
    dead = claim_plan(now=ASKED_AT)
    assert claim_plan(now=ASKED_AT + LEASE / 2) is None
    again = claim_plan(now=ASKED_AT + LEASE)
    assert again.pk == dead.pk
    keep_answer(plan=dead, solved=None, seen={}, now=ASKED_AT + LEASE)
    assert not note_progress(plan=dead, progress={}, now=ASKED_AT + LEASE)
    assert Plan.objects.get().state == "SOLVING"


def test_a_plan_whose_workers_keep_dying_has_failed(school):
    """It says why, and does not hold up the others."""
    school.ask()
    other = school.ask()
    now = ASKED_AT
    Plan.objects.exclude(pk=other.pk).update(attempts=MOST_ATTEMPTS)
    assert claim_plan(now=now + timedelta(seconds=1)).pk == other.pk
    failed = Plan.objects.exclude(pk=other.pk).get()
    assert (failed.state, failed.failure) == ("FAILED", INTERRUPTED)


def test_a_plan_that_cannot_be_read_any_more_has_failed_with_the_reason(school):
    """The instructor was dismissed before the worker came to it."""
    plan = school.ask()
    school.ilse.is_active = False
    school.ilse.save()
    solving.solve_plans()
    plan.refresh_from_db()
    assert (plan.state, plan.failure) == ("FAILED", "Choose instructors who teach here.")


def test_a_fault_of_the_solver_fails_the_plan_and_not_the_worker(school, monkeypatch):
    """The next plan is solved."""
    plan, after = school.ask(), school.ask()
    asked = {**plan.asked, "mode": "of no kind"}
    Plan.objects.filter(pk=plan.pk).update(asked=asked)
    assert solving.solve_plans() == 2
    plan.refresh_from_db()
    after.refresh_from_db()
    assert (plan.state, after.state) == ("FAILED", "READY")


def test_progress_is_noted_for_those_who_wait(school):
    """The stage, the value so far and its bound."""
    plan = school.ask()
    claimed = claim_plan(now=ASKED_AT)
    note_progress(
        plan=claimed,
        progress={"stage": "placed", "value": 2.0, "bound": 3.0, "seconds": 4.0},
        now=DECIDED_AT,
    )
    plan.refresh_from_db()
    assert plan.progress["stage"] == "placed"
    assert plan.leased_until == DECIDED_AT + LEASE
    assert Progress(**plan.progress).bound == 3.0
