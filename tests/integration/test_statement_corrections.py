"""Statements of hours are corrected by counter-lines only, and always add up."""

from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from bookings.domain.vocabulary import Attendance, Ended
from bookings.models import AuditRow, Statement, StatementCorrection
from bookings.queries import statements as queries
from tests.school.statements import (
    FIRST_ON,
    LAST_ON,
    OVER,
    February,
    counted_by_hand,
    lines,
    refused,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def school():
    return February()


def test_a_register_corrected_after_issue_is_countered(school):
    """The statement keeps its first line, beside the line that takes it back and the right one.

    Source: TRADE.md 1.10: locked after issue, corrected by a counter-line.
    """
    booking = school.taught_on(2)
    school.taught_on(3)
    statement = school.issue()
    school.mark(booking, Attendance.ABSENT_WITH_NOTICE)
    assert [line.counted_minutes for line in queries.differences(statement).lines] == [-50, 0]
    correction = school.correct(statement)
    assert (correction.number, correction.made_by) == (1, school.dag)
    assert lines(statement) == [
        (2, "taught", 50, 50),
        (3, "taught", 50, 100),
        (2, "taught", -50, 50),
        (2, "missed-with-notice", 0, 50),
    ]
    assert queries.differences(statement).lines == []
    refused("already-done", lambda: school.correct(statement))


def test_a_page_read_before_the_register_changed_writes_nothing(school):
    """Issue and correction are bound to the lines that were shown."""
    booking = school.taught_on(2)
    shown = queries.preview(school.ilse, FIRST_ON, LAST_ON, now=OVER)
    school.mark(booking, Attendance.LATE)
    school.taught_on(0)  # 31 January
    school.issue(date(2027, 1, 1), date(2027, 1, 31))
    statement = school.issue(version=shown.version)  # a late student was taught all the same
    school.mark(booking, Attendance.INSTRUCTOR_ABSENT)
    seen = queries.differences(statement)
    school.mark(booking, Attendance.ABSENT_WITHOUT_NOTICE)
    refused("stale", lambda: school.correct(statement, version=seen.version))
    school.correct(statement, version=queries.differences(statement).version)
    assert lines(statement)[-1] == (2, "missed", 50, 50)


ACTS = st.lists(
    st.tuples(st.integers(1, 3), st.sampled_from([*Attendance, "issue", "correct"])), max_size=8
)


class AnyOrder(TestCase):
    """Registers, statements and corrections in any order."""

    @settings(max_examples=15)
    @given(ACTS)
    def test_statements_with_their_counter_lines_are_the_minutes_that_count(self, acts):
        """After every issue and correction the lines add up to a walk over the rows by other code,
        and the audit tells as many acts as there are statements and corrections.
        """
        school = February()
        lessons = {day: school.taught_on(day) for day in (1, 2, 3)}
        school.ended_on(4, Ended.CANCELLED_LATE)
        statement = None
        for day, act in acts:
            is_written = False
            if isinstance(act, Attendance):
                school.mark(lessons[day], act)
            elif act == "issue" and statement is None:
                statement, is_written = school.issue(), True
            elif act == "correct" and statement and queries.differences(statement).lines:
                is_written = bool(school.correct(statement))
            if is_written:
                written = sum(row.counted_minutes for row in queries.lines_of(statement))
                by_hand = counted_by_hand(school.ilse.pk, FIRST_ON, LAST_ON)
                assert written == by_hand == queries.lines_of(statement)[-1].total_minutes
        told = AuditRow.objects.filter(verb__in=["issued", "corrected"]).count()
        assert told == Statement.objects.count() + StatementCorrection.objects.count()
