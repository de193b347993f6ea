"""A term's timetable: asked, solved, and adopted as weekly places made, moved and kept together."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction

from accounts.models import Instructor, Student, User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.hours import DAY_MINUTES
from bookings.domain.planning.model import Watch
from bookings.domain.planning.timetable import Place, Timetable, TimetableProblem, Unplaced
from bookings.domain.planning.timetable_plan import plan_timetable
from bookings.domain.plans import Solved
from bookings.domain.vocabulary import Ended
from bookings.models import Plan, WeeklyPlace
from bookings.operations.consents import require_consent
from bookings.operations.owed_state import owe_missing_dates
from bookings.operations.planning.work import PlanWork, by_request, refuse_conflicts, still_named
from bookings.operations.weekly import lock_places, weeks_with_a_lesson
from bookings.operations.weekly_lessons import give_up_place, take_place
from bookings.queries.planning.timetable import Named, read_timetable, timetable_named

MAY_DECLINE = (
    "If a time does not suit you, give the place up under My lessons. That is free of charge for "
    "every lesson whose cancellation deadline has not passed."
)


def check(asked: dict[str, Any], *, now: datetime) -> None:
    """Refused("invalid") for what is not here, "past" for a term that is over."""
    named = timetable_named(asked)
    if named.term.last_on < now.date():
        raise Refused("past", "This term is over. Choose another one.", field="term")


def solve(problem: TimetableProblem, seconds: float, watch: Watch) -> Solved:
    """The timetable as plain values."""
    table = plan_timetable(problem, seconds=seconds, watch=watch)
    answer = {"placed": _placed(table, problem), "unplaced": _unplaced(table)}
    return Solved.of(answer, table)


def _placed(table: Timetable, problem: TimetableProblem) -> list[dict[str, Any]]:
    before = {student.id: student.previous for student in problem.students}
    return [
        {
            "student": row.student,
            **_plain(row.place),
            "burden": row.burden,
            "before": _plain(before[row.student]),
        }
        for row in table.placed
    ]


def _unplaced(table: Timetable) -> list[dict[str, Any]]:
    return [
        {"student": row.student, "why": row.lack.value, "change": _change(row)}
        for row in table.unplaced
    ]


def _change(row: Unplaced) -> dict[str, Any] | None:
    """The cheapest change that would place the student."""
    change = row.change
    if change is None:
        return None
    return {
        "needs": [need.value for need in change.needs],
        **_plain(change.place),
        "burden": change.burden,
        "moves": [{"student": pk, "to": _plain(place)} for pk, place in change.moves],
    }


def _plain(place: Place | None) -> dict[str, int]:
    """A place in the words of a weekly place; empty for none."""
    if place is None:
        return {}
    weekday, wall_at = divmod(place.minute, DAY_MINUTES)
    return {"instructor": place.instructor_id, "weekday": weekday, "wall_at": wall_at}


def adopt(plan: Plan, *, actor: User, now: datetime) -> None:
    """Makes and moves every place that is not as the plan says, or refuses with each conflict.

    One email goes to each family and each instructor, however many places change.
    """
    named = still_named(lambda: timetable_named(plan.asked))
    bookings = lock_places(
        list(named.places.values()),
        now,
        teachers=[one.pk for one in named.instructors],
        students=named.students,
    )
    _check_unchanged(named, timetable_named(plan.asked))
    wanted = [row for row in (plan.answer or {})["placed"] if not _is_kept(row, named)]
    olds = [named.places[row["student"]] for row in wanted if row["student"] in named.places]
    left = {
        old.student_id: give_up_place(old, bookings, why=Ended.MOVED, actor=actor, now=now)
        for old in olds
    }
    taken, conflicts = [], []
    for row in wanted:
        try:
            taken.append(_take(row, named, left.get(row["student"]), actor=actor, now=now))
        except Refused as refusal:
            conflicts.append(_conflict(row, refusal, named))
    refuse_conflicts(conflicts)
    for new in taken:
        old = left.get(new.place.student_id)
        missing = len(old.ended) - len(new.bookings) if old is not None else 0
        owe_missing_dates(new.place, missing, actor=actor, now=now)
    messages = notices.weekly_changed(
        left=list(left.values()), taken=taken, to_families=MAY_DECLINE, now=now
    )
    outbox.enqueue(messages, now=now)


def _check_unchanged(before: Named, under_locks: Named) -> None:
    """Refused("conflict") where a place was taken or given up while this waited for the locks."""
    if before.places != under_locks.places:
        raise Refused("conflict", "A weekly place has just changed. Look at the plan again.")


def _is_kept(row: Mapping[str, Any], named: Named) -> bool:
    """Whether the student has that very place in the term."""
    place = named.places.get(row["student"])
    return place is not None and (place.instructor_id, place.weekday, place.wall_at) == (
        row["instructor"],
        row["weekday"],
        row["wall_at"],
    )


def _take(
    row: Mapping[str, Any], named: Named, left: notices.Left | None, *, actor: User, now: datetime
) -> notices.Taken:
    """Takes one place. A week that keeps a lesson of the old place gets no other."""
    students: dict[int, Student] = {one.pk: one for one in named.students}
    instructors: dict[int, Instructor] = {one.pk: one for one in named.instructors}
    place = WeeklyPlace(
        term=named.term,
        student=students[row["student"]],
        instructor=instructors[row["instructor"]],
        offering=named.offering,
        weekday=row["weekday"],
        wall_at=row["wall_at"],
    )
    without = weeks_with_a_lesson(left) if left is not None else set()
    with transaction.atomic():
        require_consent(place.student, now=now)
        return take_place(place, without, actor=actor, now=now)


def _conflict(row: Mapping[str, Any], refusal: Refused, named: Named) -> dict[str, Any]:
    student = next(one for one in named.students if one.pk == row["student"])
    return {
        "student": student.pk,
        "instructor": row["instructor"],
        "code": refusal.code,
        "detail": f"{student.full_name}: {refusal.detail}",
    }


WORK = PlanWork(check=check, read=by_request(read_timetable), solve=solve, adopt=adopt)
