"""Who covers an instructor's lessons: asked, solved, and adopted as handovers to substitutes."""

from collections.abc import Sequence
from datetime import datetime
from itertools import chain
from typing import Any

from accounts.models import User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.planning.cover import CoverProblem, Lesson
from bookings.domain.planning.cover_order import Step, steps
from bookings.domain.planning.cover_plan import plan_cover
from bookings.domain.planning.model import Watch
from bookings.domain.plans import Solved
from bookings.domain.timeline import rfc3339
from bookings.models import Plan
from bookings.operations.covering import hand_lesson, lock_handovers
from bookings.operations.planning.cover_judging import conflicts_of
from bookings.operations.planning.work import PlanWork, by_request, refuse_conflicts, still_named
from bookings.queries.cover_questions import still_asked, with_lessons
from bookings.queries.planning.cover import cover_named, lessons_to_cover, read_cover


def check(asked: dict[str, Any], *, now: datetime) -> None:
    """Refused("invalid") for what is not here and for hours without a lesson, "past" for hours that
    are over.
    """
    instructor, hours = cover_named(asked)
    if hours.ends_at <= now:
        raise Refused("past", "These hours are over. Choose later ones.", field="ends_at")
    if not lessons_to_cover(instructor, hours, now):
        raise Refused("invalid", f"{instructor} has no lesson ahead in these hours.")


def solve(problem: CoverProblem, seconds: float, watch: Watch) -> Solved:
    """The cover as plain values, each handover after those that make room for it."""
    cover = plan_cover(problem, seconds=seconds, watch=watch)
    lessons = {lesson.id: lesson for lesson in problem.lessons}
    answer = {
        "handovers": _handovers(problem, steps(problem, cover)),
        "uncovered": [{**_named(lessons[pk]), "why": why.sentence} for pk, why in cover.uncovered],
    }
    return Solved.of(answer, cover)


def _named(lesson: Lesson) -> dict[str, Any]:
    return {
        "meeting": lesson.id,
        "student": lesson.student_id,
        "starts_at": rfc3339(lesson.starts_at),
    }


def _handovers(problem: CoverProblem, given: Sequence[Step]) -> list[dict[str, Any]]:
    """`from` is who gives the lesson up to make room; empty for a lesson to be covered."""
    people = {one.instructor_id: one for one in problem.substitutes}
    givers = {own.id: pk for pk, one in people.items() for own in one.lessons}
    own_lessons = chain.from_iterable(one.lessons for one in problem.substitutes)
    lessons = {lesson.id: lesson for lesson in (*problem.lessons, *own_lessons)}
    return [
        {
            **_named(lessons[step.handover.lesson_id]),
            "from": givers.get(step.handover.lesson_id),
            "to": step.handover.instructor_id,
            "makes_room_for": step.handover.makes_room_for,
            "has_met": step.handover.has_met,
            "needs_yes": list(step.handover.needs_yes),
            "said_yes": step.handover.lesson_id in people[step.handover.instructor_id].says_yes,
            "waits": step.waits,
        }
        for step in given
    ]


def adopt(plan: Plan, *, actor: User, now: datetime) -> None:
    """Hands over every lesson that waits for nobody's yes, or refuses with each conflict.

    A lesson that still waits for a substitute's yes stays as it is. Each family gets one email.
    Refused("not-yet") where every lesson waits, or none is covered.
    """
    ill, _ = still_named(lambda: cover_named(plan.asked))
    rows = [
        {**row, "from": row["from"] or ill.pk}
        for row in (plan.answer or {})["handovers"]
        if not row["waits"]
    ]
    if not rows:
        raise Refused("not-yet", "No lesson can be handed over yet. Ask for a yes, or plan again.")
    lessons = lock_handovers(rows)
    conflicts, given = conflicts_of(rows, lessons, now=now)
    refuse_conflicts(conflicts)
    covered = [hand_lesson(one, actor=actor, now=now) for one in given]
    outbox.enqueue(notices.lessons_covered(covered, now=now), now=now)


def discard(plan: Plan, *, now: datetime) -> None:
    """Tells each substitute whom this plan asked, and who has not said no, that they are not
    needed: one email about all their lessons. Whoever has neither answered nor been sent the
    question is not sent it any more, and hears nothing.
    """
    asked = with_lessons(still_asked(plan, now=now))
    answered = {one.question.instructor.user_id for one in asked if one.question.says_yes}
    unheard = outbox.withdraw_asked(notices.plan_key(plan)) - answered
    questions = [
        (one.question, one.booking.student)
        for one in asked
        if one.question.instructor.user_id not in unheard
    ]
    outbox.enqueue(notices.cover_not_needed(plan, questions, now=now), now=now)


WORK = PlanWork(check=check, read=by_request(read_cover), solve=solve, adopt=adopt, discard=discard)
