"""Why a student has no place in a table, and the cheapest change that would give them one.

A best table has no free place for them as things are, so something has to give: their own family
accepts a dear hour, an instructor teaches more than their load allows, another family accepts a
dear hour. Looked for are the student's own places, each with at most one other student moved to
make room. Fewest rules come first, in the order of `Need`; then no move before one, then the least
burden. Where all that fails, others would have to leave: the fewest, and the change names them.
"""

from collections.abc import Iterator

from bookings.domain.burden import HARD
from bookings.domain.planning.timetable import (
    Change,
    Lack,
    Need,
    Place,
    TermStudent,
    TimetableProblem,
    Wish,
)
from bookings.domain.planning.timetable_table import (
    Lesson,
    Table,
    allowed,
    collide,
    is_within_load,
    lessons_of,
)

_ORDER = tuple(Need)


def lack_of(student: TermStudent) -> Lack:
    """Why the student could have no place."""
    if not student.wishes:
        return Lack.NO_HOURS
    return Lack.TAKEN if allowed(student) else Lack.CONSENT


class ChangeSearch:
    """A table, in which changes are looked for."""

    def __init__(self, problem: TimetableProblem, table: Table) -> None:
        self.instructors = {instructor.id: instructor for instructor in problem.instructors}
        self.students = {student.id: student for student in problem.students}
        self.table = table
        self.lessons = lessons_of(problem, table)

    def cheapest(self, student: TermStudent) -> Change | None:
        """The cheapest change that places the student; None if they have no hours."""
        changes = [change for wish in student.wishes for change in self._changes(student, wish)]
        return min(changes, key=_price, default=None)

    def _changes(self, student: TermStudent, wish: Wish) -> Iterator[Change]:
        """Every change that gives the student this place."""
        own = [Need.CONSENT] if _is_dear(student, wish) else []
        instructor = self.instructors[wish.place.instructor_id]
        lesson = Lesson(wish.place.minute, student.minutes, student.id)
        here = self.lessons[instructor.id]
        others = [other for other in here if collide(instructor, lesson, other)]
        stay = [other for other in here if other not in others]
        if not others:
            after = {**self.lessons, instructor.id: [*here, lesson]}
            yield Change(self._needs(own, after), wish.place, wish.burden)
            return
        if len(others) == 1:
            after = {**self.lessons, instructor.id: [*stay, lesson]}
            yield from self._with_a_move(own, wish, others[0], after)
        if all(self.students[other.student].fixed is None for other in others):
            left = tuple((other.student, None) for other in others)
            needs = self._needs([*own, Need.OTHER_LEAVES], {instructor.id: [*stay, lesson]})
            yield Change(needs, wish.place, wish.burden, left)

    def _with_a_move(
        self, own: list[Need], wish: Wish, other: Lesson, after: dict[int, list[Lesson]]
    ) -> Iterator[Change]:
        """The changes in which the one in the way goes to another of their own places."""
        mover = self.students[other.student]
        if mover.fixed is not None:
            return
        for goal in mover.wishes:
            instructor = self.instructors[goal.place.instructor_id]
            moved = Lesson(goal.place.minute, mover.minutes, mover.id)
            if any(collide(instructor, moved, taken) for taken in after[instructor.id]):
                continue
            needs = [*own, Need.OTHER_CONSENT] if _is_dear(mover, goal) else own
            then = {**after, instructor.id: [*after[instructor.id], moved]}
            move = (mover.id, goal.place)
            yield Change(self._needs(needs, then), wish.place, wish.burden, (move,))

    def _needs(self, needs: list[Need], after: dict[int, list[Lesson]]) -> tuple[Need, ...]:
        """The needs, and an instructor's load where it would be over."""
        is_light = all(
            is_within_load(self.instructors[instructor_id], sorted(lessons))
            for instructor_id, lessons in after.items()
        )
        found = needs if is_light else [*needs, Need.LOAD]
        return tuple(sorted(found, key=_ORDER.index))


def _is_dear(student: TermStudent, wish: Wish) -> bool:
    return wish.burden >= HARD and not student.has_consent


def _price(change: Change) -> tuple[bool, int, list[int], int, int, Place]:
    return (
        Need.OTHER_LEAVES in change.needs,
        len(change.needs),
        [_ORDER.index(need) for need in change.needs],
        len(change.moves),
        change.burden,
        change.place,
    )
