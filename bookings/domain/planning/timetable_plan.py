"""Solves a term's timetable: the places, their proof, and what would place the others."""

from math import inf

from bookings.domain.errors import Refused
from bookings.domain.planning.model import Solution, Watch
from bookings.domain.planning.solving import solve
from bookings.domain.planning.timetable import (
    Placed,
    TermStudent,
    Timetable,
    TimetableProblem,
    Unplaced,
)
from bookings.domain.planning.timetable_changes import ChangeSearch, lack_of
from bookings.domain.planning.timetable_model import timetable_draft
from bookings.domain.planning.timetable_stages import stages_of
from bookings.domain.planning.timetable_table import Table, allowed, greedy_table


def plan_timetable(
    problem: TimetableProblem, *, seconds: float = inf, watch: Watch | None = None
) -> Timetable:
    """The best timetable that the seconds allow.

    Refused("invalid") where the fixed places stand in each other's way.
    """
    draft = timetable_draft(problem)
    if not draft.has:
        return _told(problem, {}, Solution(None, (), 0, False))
    tables = first_tables(problem)
    found = solve(
        draft.model,
        stages_of(draft),
        seconds=seconds,
        firsts=[draft.values_of(table) for table in tables],
        watch=watch,
        cuts=draft.cuts,
    )
    if found.is_impossible:
        raise Refused(
            "invalid",
            "Fix other places: these collide or are more than the instructor's load.",
            field="fixed",
        )
    table = tables[0] if found.values is None else draft.table_of(found.values)
    return _told(problem, table, found)


def first_tables(problem: TimetableProblem) -> list[Table]:
    """First answers: whoever had a place first, and whoever has fewest choices first; fixed places
    before all.
    """
    had = sorted(problem.students, key=lambda student: (*_urgency(student), len(allowed(student))))
    few = sorted(
        problem.students, key=lambda student: (student.fixed is None, len(allowed(student)))
    )
    return [greedy_table(problem, had), greedy_table(problem, few)]


def _urgency(student: TermStudent) -> tuple[bool, bool]:
    return student.fixed is None, student.previous is None


def _told(problem: TimetableProblem, table: Table, solved: Solution) -> Timetable:
    """The timetable with its places, and with the reason and the cheapest change of the others."""
    placed, unplaced, search = [], [], ChangeSearch(problem, table)
    for student in problem.students:
        place = table.get(student.id)
        if place is None:
            unplaced.append(Unplaced(student.id, lack_of(student), search.cheapest(student)))
        else:
            burden = next(wish.burden for wish in student.wishes if wish.place == place)
            placed.append(Placed(student.id, place, burden))
    return Timetable(
        tuple(placed),
        tuple(unplaced),
        stages=solved.stages,
        seconds=solved.seconds,
        is_stopped=solved.is_stopped,
    )
