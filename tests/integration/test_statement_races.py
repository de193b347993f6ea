"""Statements, corrections and registers that meet at one instant, on PostgreSQL."""

import pytest

from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Attendance
from bookings.models import Statement, StatementCorrection
from bookings.queries.statements import differences, lines_of
from tests.school.statements import FIRST_ON, LAST_ON, February, counted_by_hand
from tests.threads import together

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres]


@pytest.fixture
def school():
    return February()


def codes(raised):
    """What was refused; anything but a refusal by its own words."""
    return [error.code if isinstance(error, Refused) else repr(error) for error in raised]


def written(statement):
    return sum(row.counted_minutes for row in lines_of(statement))


def by_hand(school):
    return counted_by_hand(school.ilse.pk, FIRST_ON, LAST_ON)


@pytest.mark.parametrize("attempt", range(3))
def test_a_statement_is_issued_while_its_register_is_corrected(school, attempt):
    """Either the statement has the correction already, or it differs and a correction adds it."""
    booking, other = school.taught_on(2), school.taught_on(3)
    raised = together(
        school.issue,
        lambda: school.mark(booking, Attendance.INSTRUCTOR_ABSENT),
        lambda: school.mark(other, Attendance.ABSENT_WITH_NOTICE),
    )
    assert codes(raised) == []
    statement = Statement.objects.get()
    if differences(statement).lines:
        school.correct(statement)
    assert written(statement) == by_hand(school) == 0


@pytest.mark.parametrize("attempt", range(3))
def test_two_admins_issue_the_same_days(school, attempt):
    """One statement, and the other admin is told that it is there."""
    school.taught_on(2)
    assert codes(together(school.issue, school.issue)) == ["already-done"]
    assert written(Statement.objects.get()) == 50


@pytest.mark.parametrize("attempt", range(3))
def test_two_admins_correct_one_statement_while_it_changes_again(school, attempt):
    """Nothing is countered twice, and the sum is right once nothing differs."""
    booking = school.taught_on(2)
    statement = school.issue()
    school.mark(booking, Attendance.INSTRUCTOR_ABSENT)
    raised = together(
        lambda: school.correct(Statement.objects.get()),
        lambda: school.correct(Statement.objects.get()),
        lambda: school.mark(booking, Attendance.PRESENT),
    )
    assert set(codes(raised)) <= {"already-done"}
    if differences(statement).lines:
        school.correct(statement)
    assert written(statement) == by_hand(school) == 50
    numbers = list(StatementCorrection.objects.values_list("number", flat=True))
    assert numbers == list(range(1, len(numbers) + 1))
