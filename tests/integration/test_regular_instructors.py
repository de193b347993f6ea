"""The instructor a student belongs to: named by an admin, suggested, ended with their teaching."""

from datetime import timedelta

import pytest

from bookings.domain.vocabulary import Attendance, Ended, Standing
from bookings.models import AuditRow, Mark
from bookings.operations.closing import close_account
from bookings.operations.leaving import dismiss_instructor
from bookings.operations.regular_instructors import name_regular_instructor
from bookings.queries.leaving import ends_with_account, ends_with_instructor
from bookings.queries.regular_instructors import instructors_teaching, taught_most
from bookings.queries.student_times import student_time
from tests import cast
from tests.cast import NOW
from tests.school.leaving import School

pytestmark = pytest.mark.django_db


@pytest.fixture
def school() -> School:
    return School()


def named(school: School, student, instructor):
    """The act of the admin."""
    return school.do(name_regular_instructor, student=student, instructor=instructor)


def test_an_admin_names_and_takes_back_a_regular_instructor(school: School) -> None:
    """Each change is one audit row; the same one again is none."""
    for instructor in (school.ilse, school.ilse, None):
        assert named(school, school.noor, instructor).regular_instructor == instructor
    rows = AuditRow.objects.filter(thing="student", thing_id=school.noor.pk)
    assert [row.fields for row in rows] == [["regular_instructor"]] * 2


def test_only_an_admin_names_and_only_who_teaches_is_named(school: School) -> None:
    """A refusal leaves nothing behind."""
    wren = cast.make_instructor("Wren Halloway")
    wren.is_active = False
    wren.save()
    asked = {"student": school.noor, "instructor": wren}
    school.refused("already-ended", name_regular_instructor, **asked)
    school.dag = school.ilse.user
    asked["instructor"] = school.ilse
    school.refused("not-allowed", name_regular_instructor, **asked)
    school.noor.refresh_from_db()
    assert school.noor.regular_instructor is None


@pytest.mark.parametrize("closes", [False, True])
def test_dismissing_an_instructor_leaves_their_students_without(
    school: School, closes: bool
) -> None:
    """The preview names them; dismissing and closing the account both end it, on the record."""
    wren = cast.make_instructor("Wren Halloway")
    for student in (school.noor, school.posy):
        named(school, student, wren)
    named(school, school.marlo, school.ilse)
    before = (
        ends_with_account(wren.user, now=NOW) if closes else ends_with_instructor(wren, now=NOW)
    )
    assert (before.regular, bool(before)) == ([school.noor, school.posy], False)
    if closes:
        school.do(close_account, user=wren.user)
    else:
        ended = school.do(dismiss_instructor, instructor=wren)
        assert ended.regular_students == [school.noor, school.posy]
    for student in (school.noor, school.posy, school.marlo):
        student.refresh_from_db()
    assert [school.noor.regular_instructor, school.posy.regular_instructor] == [None, None]
    assert school.marlo.regular_instructor == school.ilse
    rows = AuditRow.objects.filter(thing="student", thing_id=school.noor.pk)
    assert rows.count() == 2


def test_a_refused_dismissal_leaves_the_regular_instructor(school: School) -> None:
    """Meetings stand in the way until somebody says why they are called off."""
    named(school, school.noor, school.ilse)
    school.fill(school.noor)
    school.refused("has-bookings", dismiss_instructor, instructor=school.ilse)
    school.noor.refresh_from_db()
    assert school.noor.regular_instructor == school.ilse


def test_the_fit_continues_with_the_regular_instructor(school: School) -> None:
    """The latest assessment's author counts only where there is no regular instructor."""
    wren = cast.make_instructor("Wren Halloway")
    cast.make_assessment(school.noor, school.ilse, state="released", released_at=NOW)
    until = NOW + timedelta(days=7)
    assert student_time(school.noor, NOW, until).continues_with == school.ilse.pk
    student = named(school, school.noor, wren)
    assert student_time(student, NOW, until).continues_with == wren.pk


def test_who_taught_most_in_ninety_days_is_suggested(school: School) -> None:
    """One-on-ones that took place count; of equal ones the later; dismissed instructors never."""
    wren = cast.make_instructor("Wren Halloway")
    noor, ago = school.noor, lambda days: NOW - timedelta(days=days)

    def suggested():
        found = taught_most(noor, instructors_teaching(), now=NOW)
        return found and (found.instructor, found.lessons)

    assert suggested() is None
    for days in (91, 95, 99):
        cast.taught(wren, noor, school.lesson, ago(days))
    cast.taught(wren, noor, school.group, ago(2))
    assert suggested() is None
    cast.taught(school.ilse, noor, school.lesson, ago(20))
    cast.taught(wren, noor, school.lesson, ago(10))
    assert suggested() == (wren, 1)
    missed = cast.taught(wren, noor, school.lesson, ago(5))
    Mark.objects.create(booking=missed, attendance=Attendance.ABSENT_WITHOUT_NOTICE, marked_at=NOW)
    ended = cast.taught(wren, noor, school.lesson, ago(4))
    ended.standing, ended.ended_at, ended.ended_why = Standing.ENDED, NOW, Ended.CALLED_OFF
    ended.save()
    cast.taught(school.ilse, noor, school.lesson, ago(30))
    assert suggested() == (school.ilse, 2)
    school.ilse.is_active = False
    school.ilse.save()
    assert suggested() == (wren, 1)
