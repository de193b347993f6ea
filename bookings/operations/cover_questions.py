"""A substitute’s own yes to lessons outside their hours or beyond their load: asked and given."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from accounts.models import Instructor, Student, User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import PlanKind, PlanState
from bookings.models import CoverQuestion, Meeting, Plan
from bookings.operations.audit import record
from bookings.operations.plan_state import lock_plan, solve_again

Row = Mapping[str, Any]


def ask_substitutes(*, actor: User, plan: Plan, version: int | None = None, now: datetime) -> Plan:
    """Asks everybody without whose own yes a lesson of the plan stays as it is, by one email each.

    Refused: "stale", "wrong-kind", "not-yet" for a plan without an answer, "already-ended",
    "already-done" where everybody has been asked or nobody has to be.
    """
    current = lock_plan(plan, version)
    if current.kind != PlanKind.COVER:
        raise Refused("wrong-kind", "Only a plan that covers lessons asks substitutes.")
    if current.state in (PlanState.ADOPTED, PlanState.DISCARDED):
        raise Refused("already-ended", f"This plan was {current.state.lower()}.")
    if not current.is_answered:
        raise Refused("not-yet", "This plan has no answer yet.")
    rows = [row for row in (current.answer or {})["handovers"] if row["needs_yes"]]
    asked = _questions(current, rows, now)
    if not asked:
        raise Refused("already-done", "Everybody whose yes is needed has been asked.")
    current.version += 1
    current.save(update_fields=["version"])
    record(actor=actor, verb="asked substitutes", thing=current, now=now)
    outbox.enqueue(notices.cover_asked(current, asked, now=now), now=now)
    return current


def _questions(plan: Plan, rows: list[Row], now: datetime) -> list[tuple[CoverQuestion, Student]]:
    """The questions that this plan has not asked yet, stored."""
    meetings = Meeting.objects.select_related("offering").in_bulk([row["meeting"] for row in rows])
    people = Instructor.objects.select_related("user").in_bulk([row["to"] for row in rows])
    students = Student.objects.select_related("user").in_bulk([row["student"] for row in rows])
    asked = []
    for row in rows:
        question, is_new = CoverQuestion.objects.get_or_create(
            meeting=meetings[row["meeting"]],
            instructor=people[row["to"]],
            starts_at=datetime.fromisoformat(row["starts_at"]),
            defaults={"plan": plan, "asked_at": now},
        )
        if is_new or (question.says_yes is None and question.plan_id != plan.pk):
            question.plan, question.asked_at = plan, now
            question.save(update_fields=["plan", "asked_at"])
            asked.append((question, students[row["student"]]))
    return asked


def answer_cover_question(
    *, actor: User, question: CoverQuestion, says_yes: bool, now: datetime
) -> CoverQuestion:
    """The substitute's own yes or no. The plan that asked is solved again with it.

    The same answer a second time changes nothing. Refused: "not-allowed" to anybody but the
    substitute, "already-done" for another answer, "already-ended" where the plan is over or the
    lesson has moved or ended, "past" once it has begun, "conflict" where another plan has just
    asked.
    """
    if actor.pk != question.instructor.user_id:
        raise Refused("not-allowed", "Only the substitute can say yes or no.")
    plan = lock_plan(question.plan, None)
    current = CoverQuestion.objects.select_related("meeting", "instructor__user").get(
        pk=question.pk
    )
    if current.plan_id != plan.pk:
        raise Refused("conflict", "You have just been asked again. Read the page again.")
    if current.says_yes == says_yes:
        return current
    _check_open(current, plan, now)
    current.says_yes, current.answered_at = says_yes, now
    current.save(update_fields=["says_yes", "answered_at"])
    record(actor=actor, verb="answered", thing=current, fields=["says_yes"], now=now)
    solve_again(plan)
    return current


def _check_open(question: CoverQuestion, plan: Plan, now: datetime) -> None:
    if question.says_yes is not None:
        raise Refused("already-done", "You have already answered. Please tell an admin.")
    meeting = question.meeting
    is_over = plan.state in (PlanState.ADOPTED, PlanState.DISCARDED)
    if is_over or meeting.is_cancelled or meeting.starts_at != question.starts_at:
        raise Refused("already-ended", "This lesson does not need a substitute any more.")
    if question.starts_at <= now:
        raise Refused("past", "This lesson has begun.")
