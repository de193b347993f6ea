"""Statements of hours: what is issued, and that it is locked."""

from datetime import date

import pytest
from django.db import IntegrityError, transaction
from django.db.models import F

from bookings.access import statements_of
from bookings.domain.vocabulary import Attendance, Ended
from bookings.models import (
    AuditRow,
    Meeting,
    Statement,
    StatementCorrection,
    StatementLine,
    guards,
)
from bookings.queries import statements as queries
from tests import cast
from tests.cast import at
from tests.school.statements import FIRST_ON, LAST_ON, OVER, February, lines, refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def school():
    return February()


def test_a_statement_has_a_line_for_each_meeting_of_its_dates(school):
    """By start, with running totals; cancelled in time has none, January and March neither.

    Source: TRADE.md 1.10, what a line holds.
    """
    school.taught_on(5)
    school.taught_on(0)  # 31 January
    school.lesson_on(29)  # 1 March
    school.ended_on(3, Ended.CANCELLED_LATE)
    school.ended_on(4, Ended.CALLED_OFF)
    school.ended_on(6, Ended.CANCELLED_IN_TIME)
    school.mark(school.lesson_on(8), Attendance.INSTRUCTOR_ABSENT)
    assert lines(school.issue()) == [
        (3, "cancelled-late", 50, 50),
        (4, "called-off", 0, 50),
        (5, "taught", 50, 100),
        (8, "instructor-absent", 0, 100),
    ]


def test_a_proposed_time_that_nobody_took_has_no_line(school):
    """Nobody had agreed to it. The lesson that was taught is the only line."""
    starts_at = at("2027-02-10T16:00Z")
    cast.make_meeting(school.lesson, school.ilse, starts_at, is_proposed=True, status="CANCELLED")
    school.taught_on(12)
    assert lines(school.issue()) == [(12, "taught", 50, 50)]


def test_an_empty_statement_is_not_issued(school):
    """It would say nothing, for ever. A lesson that does not count is a line all the same."""
    school.ended_on(6, Ended.CANCELLED_IN_TIME)
    school.lesson_on(29)  # 1 March
    refusal = refused("invalid", school.issue)
    assert refusal.detail == (
        "A statement of these days would be empty. Choose days with lessons or meetings."
    )
    assert not Statement.objects.exists()
    school.ended_on(4, Ended.CALLED_OFF)
    assert lines(school.issue()) == [(4, "called-off", 0, 0)]


def test_a_meeting_belongs_to_the_date_that_was_promised(school):
    """An instructor who moves to another zone loses no lesson between two statements.

    The lesson of 28 February, 23:30 in Dublin, is on the 28th also for an instructor who by then
    lives in Kathmandu.
    """
    late = cast.make_meeting(school.lesson, school.ilse, at("2027-02-28T23:00Z"))
    school.mark(cast.make_booking(late, school.noor), Attendance.PRESENT)
    user = school.ilse.user
    user.time_zone = "Asia/Kathmandu"
    user.save()
    (line,) = queries.lines_of(school.issue(now=at("2027-03-02T09:00Z")))
    assert (line.wall_on, line.time_zone) == (date(2027, 2, 28), "Europe/Dublin")


def test_a_covered_lesson_is_the_substitutes(school):
    """Whoever taught it has the line, and nobody else.

    Source: TRADE.md 1.10, substitutes come from the faculty, and hours taught are paid.
    """
    covered, own = school.taught_on(2), school.taught_on(3)
    wren = cast.make_instructor("Wren Halloway")
    Meeting.objects.filter(pk=covered.meeting_id).update(instructor=wren)
    assert [row.meeting_id for row in queries.lines_of(school.issue())] == [own.meeting_id]
    school.ilse = wren
    assert [row.meeting_id for row in queries.lines_of(school.issue())] == [covered.meeting_id]


def test_an_open_register_refuses_the_statement_and_names_the_meeting(school):
    """Nothing is written until somebody has said what happened.

    Source: TRADE.md 1.10 [S88]: incomplete sheets are not accepted.
    """
    unmarked = school.lesson_on(9)
    refusal = refused("register-open", school.issue)
    assert [one["id"] for one in refusal.data["meetings"]] == [unmarked.meeting_id]
    assert not Statement.objects.exists()
    assert not AuditRow.objects.filter(verb="issued").exists()


@pytest.mark.parametrize(
    ("first_on", "last_on"),
    [
        (FIRST_ON, LAST_ON),
        (date(2027, 1, 15), FIRST_ON),
        (LAST_ON, LAST_ON),
        (date(2027, 1, 1), LAST_ON),
    ],
)
def test_no_date_is_in_two_statements_of_one_instructor(school, first_on, last_on):
    """The same lesson would count twice. Another instructor's statement is no hindrance."""
    school.taught_on(1)
    school.taught_on(28)
    issued = school.issue()
    refusal = refused("already-done", lambda: school.issue(first_on, last_on))
    assert refusal.data["statement"] == issued.pk
    school.ilse = cast.make_instructor("Wren Halloway")
    school.noor = cast.make_student("Marlo Fenn")
    school.taught_on(1)
    school.taught_on(28)
    school.issue(first_on, last_on)


def test_the_database_refuses_overlapping_dates_too(school):
    """Where a race gets past the rule, the guard speaks with the rule's code."""
    school.taught_on(2)
    issued = school.issue()
    again = Statement(instructor=school.ilse, first_on=LAST_ON, last_on=LAST_ON, issued_at=OVER)
    with pytest.raises(IntegrityError) as caught, transaction.atomic():
        again.save()
    assert guards.as_refusal(caught.value).code == "already-done"
    assert list(Statement.objects.all()) == [issued]


def test_the_days_before_and_after_are_free(school):
    """Two months touch and do not overlap."""
    school.taught_on(0)  # 31 January
    school.taught_on(1)
    school.issue()
    school.issue(date(2027, 1, 1), date(2027, 1, 31))
    assert Statement.objects.count() == 2


@pytest.mark.parametrize("act", ["update", "delete"])
@pytest.mark.parametrize("model", [Statement, StatementLine, StatementCorrection])
def test_what_was_issued_is_never_changed(school, model, act):
    """The database itself refuses, whoever tries."""
    booking = school.taught_on(2)
    statement = school.issue()
    school.mark(booking, Attendance.INSTRUCTOR_ABSENT)
    school.correct(statement)
    rows = model.objects.all()
    with pytest.raises(IntegrityError) as caught, transaction.atomic():
        rows.update(id=F("id")) if act == "update" else rows._raw_delete("default")
    assert guards.as_refusal(caught.value).code == "not-allowed"


def test_only_an_admin_issues(school):
    """An instructor reads theirs."""
    school.dag = school.ilse.user
    refused("not-allowed", school.issue)


def test_statements_are_read_by_their_instructor_and_by_admins(school):
    """Another instructor sees none, a student is refused; who has left still reads theirs."""
    school.taught_on(2)
    issued = school.issue()
    assert list(statements_of(school.dag)) == list(statements_of(school.ilse.user)) == [issued]
    assert list(statements_of(cast.make_instructor("Wren Halloway").user)) == []
    school.ilse.is_active = False
    school.ilse.save()
    assert list(statements_of(school.ilse.user)) == [issued]
    refused("not-allowed", lambda: statements_of(school.noor.user))


def test_a_statement_outlasts_the_people_in_it(school):
    """Its lines hold ids and words of the trade, and no text that somebody typed.

    Source: TRADE.md 8, scenario 25: after an erasure the statement of hours still adds up.
    """
    school.taught_on(2)
    row = StatementLine.objects.filter(statement=school.issue()).values().get()
    words = [value for value in row.values() if isinstance(value, str)]
    assert words == ["Europe/Dublin", "private-lesson", "taught"]
