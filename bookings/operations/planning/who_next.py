"""Who is next: asked, solved, and adopted as times that are proposed and held."""

from datetime import datetime
from typing import Any

from django.db import transaction

from accounts.models import Instructor, Student, User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.planning.model import Watch
from bookings.domain.planning.who_next import Proposal
from bookings.domain.planning.who_next_plan import plan_who_next
from bookings.domain.plans import FAMILIES_COSTS, Solved
from bookings.domain.timeline import rfc3339
from bookings.models import Offering, Plan
from bookings.operations.locks import hold_teachers, lock_students
from bookings.operations.planning.work import PlanWork, by_request, refuse_conflicts, still_named
from bookings.operations.proposed_times import Held, hold_times
from bookings.queries.planning.students import students_named
from bookings.queries.planning.who_next import WhoNextRead, read_who_next, who_next_named


def check(asked: dict[str, Any], *, now: datetime) -> None:
    """Refused("invalid") for somebody who does not teach here, or what they do not teach."""
    who_next_named(asked)


def solve(read: WhoNextRead, seconds: float, watch: Watch) -> Solved:
    """The plan as plain values. What the hours cost the families stands apart from the rest."""
    plan = plan_who_next(read.problem, seconds=seconds, watch=watch)
    unreached = {pk: why.sentence for pk, why in plan.unreached} | dict(read.left_out)
    answer = {
        "proposals": [_plain(one, read) for one in plan.proposals],
        "unreached": [
            {"student": pk, "due": list(due.sentences), "why": unreached[pk]}
            for pk, due in read.due.items()
            if pk in unreached
        ],
        FAMILIES_COSTS: {
            str(one.student_id): [start.burden for start in (one.start, *one.others)]
            for one in plan.proposals
        },
    }
    return Solved.of(answer, plan)


def _plain(one: Proposal, read: WhoNextRead) -> dict[str, Any]:
    return {
        "student": one.student_id,
        "due": list(read.due[one.student_id].sentences),
        "starts_at": rfc3339(one.start.starts_at),
        "others": [rfc3339(other.starts_at) for other in one.others],
    }


def adopt(plan: Plan, *, actor: User, now: datetime) -> None:
    """Proposes its first time to every student, or refuses with each conflict.

    One email goes to each reader, however many of their children are in it.
    """
    instructor, taught = still_named(lambda: who_next_named(plan.asked))
    rows = (plan.answer or {})["proposals"]
    students = students_named([row["student"] for row in rows])
    hold_teachers([instructor.pk], students)
    locked = lock_students([student.pk for student in students])
    held, conflicts = [], []
    for row in rows:
        try:
            with transaction.atomic():
                student = _here(locked, row)
                held.append(_hold(row, student, taught.offering, instructor, actor=actor, now=now))
        except Refused as refusal:
            named = locked.get(row["student"])
            conflicts.append({"instructor": instructor.pk, **_conflict(row, refusal, named)})
    refuse_conflicts(conflicts)
    messages = notices.times_proposed([(one.proposal, one.times) for one in held], now=now)
    outbox.enqueue(messages, now=now)


def _here(locked: dict[int, Student], row: dict[str, Any]) -> Student:
    """The student of a proposal. Refused("already-ended") for one who has left the school."""
    if row["student"] not in locked:
        raise Refused("already-ended", "This student has left the school.")
    return locked[row["student"]]


def _hold(
    row: dict[str, Any],
    student: Student,
    offering: Offering,
    instructor: Instructor,
    *,
    actor: User,
    now: datetime,
) -> Held:
    return hold_times(
        actor=actor,
        student=student,
        offering=offering,
        instructor=instructor,
        starts=[datetime.fromisoformat(row["starts_at"])],
        now=now,
    )


def _conflict(row: dict[str, Any], refusal: Refused, student: Student | None) -> dict[str, Any]:
    """What stands against a proposal. A minor is named without a surname: instructors read it."""
    named = f"{student.first_name}: " if student is not None else ""
    return {
        "student": row["student"],
        "starts_at": row["starts_at"],
        "code": refusal.code,
        "detail": f"{named}{refusal.detail}",
    }


WORK = PlanWork(check=check, read=by_request(read_who_next), solve=solve, adopt=adopt)
