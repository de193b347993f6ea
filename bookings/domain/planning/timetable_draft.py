"""What the columns of a timetable's model mean: from tables to values and back, and its cuts."""

from collections import defaultdict
from dataclasses import dataclass, field

from bookings.domain.planning.model import Model, Row, Values
from bookings.domain.planning.timetable import Place, TermInstructor, TermStudent, TimetableProblem
from bookings.domain.planning.timetable_table import (
    Lesson,
    Table,
    follow,
    hours_touched,
    lessons_of,
    long_runs,
)


@dataclass(slots=True)
class TimetableDraft:
    """The model of one problem and what its columns mean."""

    problem: TimetableProblem
    model: Model = field(default_factory=Model)
    has: dict[tuple[int, Place], int] = field(default_factory=dict)
    burdens: dict[int, int] = field(default_factory=dict)
    follows: dict[tuple[int, int, Place], int] = field(default_factory=dict)
    touched: dict[tuple[int, int], int] = field(default_factory=dict)
    reached: dict[int, int] = field(default_factory=dict)
    changed: int = 0
    students: dict[int, TermStudent] = field(init=False)
    instructors: dict[int, TermInstructor] = field(init=False)

    def __post_init__(self) -> None:
        self.students = {student.id: student for student in self.problem.students}
        self.instructors = {instructor.id: instructor for instructor in self.problem.instructors}

    def table_of(self, values: Values) -> Table:
        return {student_id: place for (student_id, place), x in self.has.items() if values[x] > 0.5}

    def values_of(self, table: Table) -> Values:
        """The values of a first answer; those of a table that breaks a rule are no solution."""
        values = [0.0] * len(self.model.low)
        values[self.changed] = self.model.high[self.changed]
        for student_id, place in table.items():
            student, instructor = self.students[student_id], self.instructors[place.instructor_id]
            x = self.has.get((student_id, place))
            if x is None:
                continue
            values[x] = 1
            values[self.changed] -= place == student.previous
            for level, reached in self.reached.items():
                values[reached] = max(values[reached], self.burdens[x] >= level)
            for hour in hours_touched(instructor, place.minute, student.minutes):
                values[self.touched[instructor.id, hour]] = 1
        for (one, other, place), a in self.follows.items():
            minute = follow(
                self.instructors[place.instructor_id], self.students[one].minutes, place.minute
            )
            is_after = table.get(other) == Place(place.instructor_id, minute or 0)
            if table.get(one) == place and is_after:
                values[a] = 1
        return tuple(values)

    def cuts(self, values: Values) -> list[Row]:
        """Rows against each run over the limit, wherever in the week it could be."""
        lessons = lessons_of(self.problem, self.table_of(values))
        runs = {
            (instructor.id, _shape(run))
            for instructor in self.problem.instructors
            for run in long_runs(instructor, lessons[instructor.id])
        }
        return [
            row
            for instructor_id, shape in sorted(runs)
            for row in self.rows_against(instructor_id, shape)
        ]

    def rows_against(self, instructor_id: int, shape: tuple[tuple[int, int], ...]) -> list[Row]:
        at: dict[int, list[tuple[int, int]]] = defaultdict(list)
        for (student_id, place), x in self.has.items():
            if place.instructor_id == instructor_id:
                at[place.minute].append((self.students[student_id].minutes, x))
        rows = []
        for start in at:
            sets = [
                [x for minutes, x in at.get(start + later, ()) if minutes >= length]
                for later, length in shape
            ]
            if all(sets):
                terms = [(x, 1.0) for columns in sets for x in columns]
                rows.append(Row(terms, most=len(shape) - 1))
        return rows


def _shape(run: tuple[Lesson, ...]) -> tuple[tuple[int, int], ...]:
    """A run as (minutes after its first start, minutes of the lesson)."""
    return tuple((lesson.minute - run[0].minute, lesson.minutes) for lesson in run)
