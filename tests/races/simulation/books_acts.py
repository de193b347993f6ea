"""Registers, make-up lessons and statements of hours.

The model keeps the time of a make-up lesson; what is owed and what counts is walked anew in
`books_invariants`.
"""

from collections.abc import Callable
from datetime import date, datetime

from bookings.domain.vocabulary import Attendance
from bookings.models import Booking, OwedLesson, Statement, StatementLine
from bookings.operations import booking as lessons
from bookings.operations import statements
from bookings.operations.register import mark_register
from tests.races.desk.lessons import BookSlot
from tests.races.simulation.books_invariants import check_statement
from tests.races.simulation.both import Both


class BooksActs(Both):
    """What is written into the books. A code that is not foreseen is a fault."""

    def mark(self, meeting: int, attendance: list[Attendance]) -> str:
        """Marks everybody on the roster, by their order; the list is begun anew where it ends."""
        theirs = self._meeting(meeting)
        held = Booking.objects.in_meetings([theirs]).held().order_by("pk")
        marks = {row.pk: attendance[i % len(attendance)] for i, row in enumerate(held)}
        if not marks:
            return "nothing"
        return self._done(
            "marked",
            {"already-ended", "not-yet", "owed-settled"},
            lambda: mark_register(
                actor=theirs.instructor.user, meeting=theirs, marks=marks, now=self.now
            ),
        )

    def make_up(self, owed: OwedLesson, teacher: int, starts: datetime) -> str:
        """The family books the make-up lesson of an owed lesson that may still be used."""
        ids = [row.pk for row in self.school.students]
        student = ids.index(owed.student_id)
        name = next(n for n, row in self.school.offerings.items() if row.pk == owed.offering_id)
        code = self._act(
            BookSlot(self.desk.lesson_at(name, student, teacher, starts)),
            lambda: lessons.book_slot(
                actor=self._family(student),
                student=self.school.students[student],
                offering=self.school.offerings[name],
                instructor=self.school.teachers[teacher],
                starts_at=starts,
                owed=owed,
                now=self.now,
            ),
        )
        self.answers[f"make-up {code or 'booked'}"] += 1
        return code

    def issue(self, teacher: int, first: date, last: date) -> str:
        before = Statement.objects.count()
        code = self._done(
            "issued",
            {"already-done", "register-open", "not-yet", "invalid"},
            lambda: statements.issue_statement(
                actor=self.school.admin,
                instructor=self.school.teachers[teacher],
                first_on=first,
                last_on=last,
                now=self.now,
            ),
        )
        assert Statement.objects.count() == before + (not code)
        if not code:
            check_statement(Statement.objects.latest("pk"))
        return code

    def correct(self, statement: Statement) -> str:
        """Afterwards the statement says what an independent walk over the rows counts, and what it
        said before still stands in it.
        """
        before = _lines(statement)
        code = self._done(
            "corrected",
            {"already-done", "register-open"},
            lambda: statements.correct_statement(
                actor=self.school.admin, statement=statement, now=self.now
            ),
        )
        assert _lines(statement)[: len(before)] == before, f"{statement} was rewritten"
        if code != "register-open":
            check_statement(statement)
        return code

    def _done(self, what: str, foreseen: set[str], real: Callable[[], object]) -> str:
        code = self._both(None, real)
        assert code == "" or code in foreseen, code
        if not code:
            self.answers[what] += 1
        self.agree()
        return code


def _lines(statement: Statement) -> list[tuple[int, str, int]]:
    rows = StatementLine.objects.filter(statement=statement).order_by("position")
    return list(rows.values_list("meeting", "outcome", "counted_minutes"))
