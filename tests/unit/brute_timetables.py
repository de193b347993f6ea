"""Timetables made by trying every place of every student, minute by minute."""

import random
from collections.abc import Iterator
from itertools import combinations, product

from bookings.domain.planning.timetable import (
    Place,
    TermInstructor,
    TermStudent,
    Timetable,
    TimetableProblem,
    Wish,
)

DAY = 24 * 60
Choice = tuple[Place | None, ...]
"""The place of each student, in the problem's order."""


def random_timetable(seed: int, most: int = 8) -> TimetableProblem:
    """A problem of up to `most` students in which every rule can bite."""
    source = random.Random(seed)
    instructors = tuple(_instructor(number, source) for number in range(source.randint(1, 2)))
    places = [
        Place(instructor.id, minute) for instructor in instructors for minute in instructor.starts
    ]
    students = tuple(_student(number, places, source) for number in range(source.randint(1, most)))
    return TimetableProblem(students, instructors)


def _instructor(number: int, source: random.Random) -> TermInstructor:
    step = source.choice((30, 35, 60))
    starts = sorted(
        day * DAY + 15 * 60 + step * i
        for day in range(source.randint(1, 2))
        for i in range(source.randint(1, 4))
    )
    return TermInstructor(
        number,
        tuple(starts),
        changeover=source.choice((0, 5, 10)),
        run_minutes=source.choice((None, 60, 90)),
        run_gap=source.choice((0, 15, 30)),
        day_minutes=source.choice((None, 60, 120)),
        week_minutes=source.choice((None, 90, 180)),
    )


def _student(number: int, places: list[Place], source: random.Random) -> TermStudent:
    chosen = source.sample(places, source.randint(0, min(len(places), 3)))
    wishes = tuple(Wish(place, source.choice((0, 0, 1, 3, 8))) for place in chosen)
    is_fixed = bool(chosen) and source.random() < 0.05
    return TermStudent(
        number,
        source.choice((25, 30, 45)),
        wishes,
        regular=source.choice((None, 0, 1)),
        previous=source.choice((None, *places)),
        family=source.choice((None, 1, 2)),
        has_consent=source.random() < 0.5,
        fixed=chosen[0] if is_fixed else None,
    )


def choices(problem: TimetableProblem) -> Iterator[Choice]:
    """Every table that keeps the rules."""
    ways = []
    for student in problem.students:
        own = [
            wish.place
            for wish in student.wishes
            if student.has_consent or wish.burden < 8 or wish.place == student.fixed
        ]
        ways.append([student.fixed] if student.fixed else [None, *own])
    for choice in product(*ways):
        if all(is_kept(problem, instructor, choice) for instructor in problem.instructors):
            yield choice


def is_kept(problem: TimetableProblem, instructor: TermInstructor, choice: Choice) -> bool:
    """No two lessons at once, and the load of one instructor, from the words of the rule."""
    lessons = sorted(
        (place.minute, place.minute + student.minutes)
        for student, place in zip(problem.students, choice, strict=True)
        if place is not None and place.instructor_id == instructor.id
    )
    for (_, ends), (begins, _) in combinations(lessons, 2):
        if begins < ends + instructor.changeover:
            return False
    for first in range(len(lessons)):
        taught = 0
        for i in range(first, len(lessons)):
            if i > first and lessons[i][0] - lessons[i - 1][1] >= max(instructor.run_gap, 1):
                break
            taught += lessons[i][1] - lessons[i][0]
            if instructor.run_minutes is not None and taught > instructor.run_minutes:
                return False
    by_day = {begins // DAY: 0 for begins, _ in lessons}
    for begins, ends in lessons:
        by_day[begins // DAY] += ends - begins
    if (
        instructor.day_minutes is not None
        and max(by_day.values(), default=0) > instructor.day_minutes
    ):
        return False
    return instructor.week_minutes is None or sum(by_day.values()) <= instructor.week_minutes


def value(problem: TimetableProblem, choice: Choice) -> tuple[int, ...]:
    """The stages' values, less is better in each."""
    pairs = list(zip(problem.students, choice, strict=True))
    had = [(student, place) for student, place in pairs if student.previous is not None]
    burdens = [
        wish.burden for student, place in pairs for wish in student.wishes if wish.place == place
    ]
    return (
        -sum(place is not None for place in choice),
        sum(student.previous != place for student, place in had),
        -sum(place is not None and place.instructor_id == one.regular for one, place in pairs),
        -siblings(problem, pairs),
        max(burdens, default=0),
        sum(burdens),
        len(hours(problem, pairs)),
    )


def siblings(problem: TimetableProblem, pairs) -> int:
    """Pairs of a family in which one follows the other."""
    return sum(
        follows(problem, one, other) or follows(problem, other, one)
        for one, other in combinations(pairs, 2)
        if one[0].family is not None and one[0].family == other[0].family
    )


def follows(problem: TimetableProblem, one, other) -> bool:
    (student, place), (_, later) = one, other
    if place is None or later is None or place.instructor_id != later.instructor_id:
        return False
    instructor = next(t for t in problem.instructors if t.id == place.instructor_id)
    free_from = place.minute + student.minutes + instructor.changeover
    day = place.minute // DAY
    after = [at for at in instructor.starts if at >= free_from and at // DAY == day]
    return bool(after) and later.minute == min(after)


def hours(problem: TimetableProblem, pairs) -> set[tuple[int, int]]:
    """The clock hours in which any minute is a lesson's or its changeover's."""
    found = set()
    for student, place in pairs:
        if place is not None:
            instructor = next(t for t in problem.instructors if t.id == place.instructor_id)
            held = range(place.minute, place.minute + student.minutes + instructor.changeover)
            found |= {(instructor.id, minute // 60) for minute in held}
    return found


def best_value(problem: TimetableProblem) -> tuple[int, ...] | None:
    """The least value of all tables; None where the fixed places cannot all be kept."""
    return min((value(problem, choice) for choice in choices(problem)), default=None)


def told(plan: Timetable) -> tuple[float, ...]:
    """The same tuple from a plan's stages."""
    placed, changed, regular, pairs, *rest = (stage.value for stage in plan.stages)
    return (-placed, changed, -regular, -pairs, *rest)


def choice_of(problem: TimetableProblem, plan: Timetable) -> Choice:
    places = {placed.student: placed.place for placed in plan.placed}
    return tuple(places.get(student.id) for student in problem.students)
