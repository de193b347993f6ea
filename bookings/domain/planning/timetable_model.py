"""A term's timetable as a model.

Unknowns: x_ip, whether student i has the place p, only for the places allowed to i; a_ijp, whether
the sibling j follows i, who has p; u_h, whether a lesson touches the clock hour h of an
instructor's week; t_v, whether anybody's burden is v or more; N, the value "changed". With minutes
l_i and burdens b_ip:

    sum_p x_ip <= 1, or = 1 for a fixed place
    sum of x_ip over all lessons that hold a five-minute cell of hour h, changeover included, <= u_h
    sum of l_i x_ip over an instructor's day, and week,                                <= its limit
    a_ijp <= x_ip;  a_ijp <= x_jq with q the start that follows;  sum_p a_ijp + a_jip <= 1
    sum of x_ip over the places of burden v or more <= t_v, for each i
    N + sum of x_ip over previous places = how many had one

The rows of cells are the cliques of lessons that collide, which makes the relaxation strong. Runs
without a pause are too many to write down: a run that is over the limit becomes a row when it is
seen, and at once for every start of the week to which the same run could be shifted. Such a row
counts all lessons at those starts that are at least as long: all of them together are a run as
well.
"""

from collections import defaultdict

from bookings.domain.planning.timetable import Place, TermStudent, TimetableProblem
from bookings.domain.planning.timetable_draft import TimetableDraft
from bookings.domain.planning.timetable_table import HOUR, allowed, follow
from bookings.domain.timeline import CELL_MINUTES


def timetable_draft(problem: TimetableProblem) -> TimetableDraft:
    """The model of the problem, without its runs."""
    draft = TimetableDraft(problem)
    model = draft.model
    for student in problem.students:
        mine = []
        for wish in allowed(student):
            x = draft.has[student.id, wish.place] = model.binary()
            draft.burdens[x] = wish.burden
            mine.append((x, 1.0))
        if mine:
            model.row(mine, least=0 if student.fixed is None else 1, most=1)
    _cells(draft)
    _sums(draft)
    _siblings(draft)
    _values(draft)
    return draft


def _cells(draft: TimetableDraft) -> None:
    """One lesson at a time, and which hours they touch."""
    holding: dict[tuple[int, int], list[int]] = defaultdict(list)
    for (student_id, place), x in draft.has.items():
        instructor, student = draft.instructors[place.instructor_id], draft.students[student_id]
        first = place.minute // CELL_MINUTES
        cells = instructor.held(student.minutes) // CELL_MINUTES
        for cell in range(first, first + cells):
            holding[instructor.id, cell].append(x)
    seen: set[tuple[int, int, tuple[int, ...]]] = set()
    for (instructor_id, cell), columns in sorted(holding.items()):
        hour = cell * CELL_MINUTES // HOUR
        if (instructor_id, hour, tuple(columns)) in seen:
            continue
        seen.add((instructor_id, hour, tuple(columns)))
        if (instructor_id, hour) not in draft.touched:
            draft.touched[instructor_id, hour] = draft.model.binary()
        draft.model.row(
            [*((x, 1.0) for x in columns), (draft.touched[instructor_id, hour], -1.0)], most=0
        )


def _sums(draft: TimetableDraft) -> None:
    """The minutes of each day and of the week."""
    days: dict[tuple[int, int], list[tuple[int, float]]] = defaultdict(list)
    weeks: dict[int, list[tuple[int, float]]] = defaultdict(list)
    for (student_id, place), x in draft.has.items():
        term = (x, float(draft.students[student_id].minutes))
        days[place.instructor_id, place.weekday].append(term)
        weeks[place.instructor_id].append(term)
    for (instructor_id, _), terms in days.items():
        limit = draft.instructors[instructor_id].day_minutes
        if limit is not None:
            draft.model.row(terms, most=limit)
    for instructor_id, terms in weeks.items():
        limit = draft.instructors[instructor_id].week_minutes
        if limit is not None:
            draft.model.row(terms, most=limit)


def _siblings(draft: TimetableDraft) -> None:
    """Which pairs of a family can follow each other, and when they do."""
    model = draft.model
    for people in draft.problem.families().values():
        for i, one in enumerate(people):
            for other in people[i + 1 :]:
                pair = [*_follow(draft, one, other), *_follow(draft, other, one)]
                model.row([(a, 1.0) for a in pair], most=1)


def _follow(draft: TimetableDraft, one: TermStudent, other: TermStudent) -> list[int]:
    found = []
    for wish in allowed(one):
        instructor = draft.instructors[wish.place.instructor_id]
        minute = follow(instructor, one.minutes, wish.place.minute)
        later = None if minute is None else draft.has.get((other.id, Place(instructor.id, minute)))
        if later is not None:
            a = draft.follows[one.id, other.id, wish.place] = draft.model.binary()
            draft.model.row([(a, 1), (draft.has[one.id, wish.place], -1)], most=0)
            draft.model.row([(a, 1), (later, -1)], most=0)
            found.append(a)
    return found


def _values(draft: TimetableDraft) -> None:
    """The columns of the values that are no sums."""
    model = draft.model
    had = [student for student in draft.problem.students if student.previous is not None]
    kept = [
        draft.has[student.id, student.previous]
        for student in had
        if student.previous is not None and (student.id, student.previous) in draft.has
    ]
    draft.changed = model.integer(len(had) - len(kept), len(had))
    model.row([(draft.changed, 1), *((x, 1.0) for x in kept)], least=len(had), most=len(had))
    mine: dict[int, list[int]] = defaultdict(list)
    for (student_id, _), x in draft.has.items():
        mine[student_id].append(x)
    for level in sorted({burden for burden in draft.burdens.values() if burden}):
        reached = draft.reached[level] = model.binary()
        for columns in mine.values():
            dear = [(x, 1.0) for x in columns if draft.burdens[x] >= level]
            if dear:
                model.row([*dear, (reached, -1)], most=0)
