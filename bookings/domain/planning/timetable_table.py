"""A table of lessons and what it has to keep: no two at once, and each instructor's load."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from bookings.domain.burden import HARD
from bookings.domain.hours import DAY_MINUTES
from bookings.domain.planning.timetable import (
    Place,
    TermInstructor,
    TermStudent,
    TimetableProblem,
    Wish,
)

HOUR = 60


@dataclass(frozen=True, slots=True, order=True)
class Lesson:
    """A student's lesson in an instructor's week: [minute, minute + minutes)."""

    minute: int
    minutes: int
    student: int

    @property
    def ends(self) -> int:
        return self.minute + self.minutes


Table = dict[int, Place]
"""The place of each student who has one."""


def allowed(student: TermStudent) -> tuple[Wish, ...]:
    """The wishes that may be planned: the fixed one alone; dear ones only with consent."""
    if student.fixed is not None:
        return tuple(wish for wish in student.wishes if wish.place == student.fixed)
    if student.has_consent:
        return student.wishes
    return tuple(wish for wish in student.wishes if wish.burden < HARD)


def lessons_of(problem: TimetableProblem, table: Table) -> dict[int, list[Lesson]]:
    """Each instructor's lessons, in order."""
    minutes = {student.id: student.minutes for student in problem.students}
    found: dict[int, list[Lesson]] = {instructor.id: [] for instructor in problem.instructors}
    for student_id, place in table.items():
        found[place.instructor_id].append(Lesson(place.minute, minutes[student_id], student_id))
    return {instructor_id: sorted(lessons) for instructor_id, lessons in found.items()}


def collide(instructor: TermInstructor, one: Lesson, other: Lesson) -> bool:
    """Whether the second of the two begins before the first has ended, changeover included."""
    first, second = sorted((one, other))
    return second.minute < first.minute + instructor.held(first.minutes)


def long_runs(instructor: TermInstructor, lessons: list[Lesson]) -> Iterator[tuple[Lesson, ...]]:
    """Shortest rows of lessons, in order and without a pause, that are over the run's limit."""
    if instructor.run_minutes is None:
        return
    for first in range(len(lessons)):
        taught = 0
        for last in range(first, len(lessons)):
            is_paused = last > first and lessons[last].minute - lessons[last - 1].ends >= max(
                instructor.run_gap, 1
            )
            if is_paused:
                break
            taught += lessons[last].minutes
            if taught > instructor.run_minutes:
                yield tuple(lessons[first : last + 1])
                break


def is_over_sums(instructor: TermInstructor, lessons: list[Lesson]) -> bool:
    """Whether a day or the week has more taught minutes than its limit."""
    days: dict[int, int] = defaultdict(int)
    for lesson in lessons:
        days[lesson.minute // DAY_MINUTES] += lesson.minutes
    is_over_day = instructor.day_minutes is not None and any(
        minutes > instructor.day_minutes for minutes in days.values()
    )
    return is_over_day or (
        instructor.week_minutes is not None and sum(days.values()) > instructor.week_minutes
    )


def is_within_load(instructor: TermInstructor, lessons: list[Lesson]) -> bool:
    return not is_over_sums(instructor, lessons) and not any(long_runs(instructor, lessons))


def follow(instructor: TermInstructor, minutes: int, minute: int) -> int | None:
    """The start at which a sibling's lesson follows one of `minutes` at `minute`; None without."""
    held_until = minute + instructor.held(minutes)
    day_ends = (minute // DAY_MINUTES + 1) * DAY_MINUTES
    later = [start for start in instructor.starts if held_until <= start < day_ends]
    return min(later, default=None)


def hours_touched(instructor: TermInstructor, minute: int, minutes: int) -> range:
    """The clock hours of the week that a lesson and its changeover reach into."""
    last = minute + instructor.held(minutes) - 1
    return range(minute // HOUR, last // HOUR + 1)


def greedy_table(problem: TimetableProblem, first: Iterable[TermStudent]) -> Table:
    """Places the students in that order, each at the best place that is still free: fixed or
    previous, then with the regular instructor, then of least burden.
    """
    instructors = {instructor.id: instructor for instructor in problem.instructors}
    lessons: dict[int, list[Lesson]] = {instructor.id: [] for instructor in problem.instructors}
    table: Table = {}
    for student in first:
        for wish in sorted(allowed(student), key=lambda wish: _rank(student, wish)):
            instructor = instructors[wish.place.instructor_id]
            lesson = Lesson(wish.place.minute, student.minutes, student.id)
            here = lessons[instructor.id]
            if any(collide(instructor, lesson, other) for other in here):
                continue
            if is_within_load(instructor, sorted([*here, lesson])):
                here.append(lesson)
                table[student.id] = wish.place
                break
    return table


def _rank(student: TermStudent, wish: Wish) -> tuple[bool, bool, int, Place]:
    return (
        wish.place != student.previous,
        wish.place.instructor_id != student.regular,
        wish.burden,
        wish.place,
    )
