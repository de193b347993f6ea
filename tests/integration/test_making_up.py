"""Make-up lessons, and what is taken back where a lesson takes place or was given after all."""

from datetime import date, timedelta

import pytest

from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Attendance, OwedCause
from bookings.door import write
from bookings.models import AuditRow, OwedLesson
from bookings.operations.booking import book_slot, move_slot
from tests.cast import at
from tests.school.owed import OwedSchool
from tests.school.weekly import refused

pytestmark = pytest.mark.django_db

FIRST, SECOND, THIRD = date(2027, 1, 19), date(2027, 1, 26), date(2027, 2, 2)
MINUTE = timedelta(minutes=1)


@pytest.fixture
def school() -> OwedSchool:
    return OwedSchool()


def test_a_make_up_settles_what_is_owed_and_only_once(school) -> None:
    """A make-up settles what is owed and only once."""
    school.call_off(school.lesson_on(FIRST))
    (owed,) = school.owed()
    now = at("2027-01-20T09:00Z")
    make_up = school.make_up(owed, at("2027-01-26T18:00Z"), now)
    assert make_up.makes_up == owed
    assert not OwedLesson.objects.still_owed().exists()
    refused("owed-settled", lambda: school.make_up(owed, at("2027-02-02T18:00Z"), now))


def test_a_make_up_may_be_the_last_lesson_of_its_use_by_date_and_no_later(school) -> None:
    """A make-up may be the last lesson of its use-by date and no later."""
    school.call_off(school.lesson_on(FIRST))
    (owed,) = school.owed()
    now = at("2027-04-10T09:00Z")
    OwedLesson.objects.update(use_by=date(2027, 4, 19))
    refused("use-by-passed", lambda: school.make_up(owed, at("2027-04-20T16:30Z"), now))
    OwedLesson.objects.update(use_by=date(2027, 4, 20))
    make_up = school.make_up(owed, at("2027-04-20T16:30Z"), now)
    with pytest.raises(Refused) as caught:
        write(
            lambda: move_slot(
                actor=school.marlo.user,
                booking=make_up,
                starts_at=at("2027-04-27T16:30Z"),
                now=now,
            ),
            now=now,
        )
    assert caught.value.code == "use-by-passed"


def test_a_make_up_is_of_the_same_offering_and_of_its_student(school) -> None:
    """A make-up is of the same offering and of its student."""
    school.call_off(school.lesson_on(FIRST))
    (owed,) = school.owed()
    now, start = at("2027-01-20T09:00Z"), at("2027-01-26T18:00Z")
    values = {"instructor": school.ilse, "starts_at": start, "owed": owed, "now": now}
    refused(
        "wrong-kind",
        lambda: book_slot(
            actor=school.marlo.user, student=school.marlo, offering=school.short, **values
        ),
    )
    _, kit, _ = school.siblings()
    refused(
        "invalid",
        lambda: book_slot(
            actor=kit.guardians.first(), student=kit, offering=school.lesson, **values
        ),
    )


def test_a_missed_make_up_is_forfeited(school) -> None:
    """Source: a studio's published policy: a missed make-up is not made up (TRADE.md 1.8)."""
    school.call_off(school.lesson_on(FIRST))
    make_up = school.make_up(school.owed()[0], at("2027-01-26T18:00Z"), at("2027-01-20T09:00Z"))
    school.mark(make_up, Attendance.ABSENT_WITHOUT_NOTICE)
    assert len(school.owed()) == 1


def test_a_make_up_that_the_school_calls_off_is_owed_again_with_time_from_then(school) -> None:
    """A make-up that the school calls off is owed again with time from then."""
    school.cancel(school.lesson_on(FIRST))
    make_up = school.make_up(school.owed()[0], at("2027-01-26T18:00Z"), at("2027-01-20T09:00Z"))
    school.call_off(make_up)
    again = school.owed()[1]
    assert (again.booking, again.cause, again.term) == (
        make_up,
        OwedCause.CALLED_OFF,
        school.term,
    )
    assert again.use_by == date(2027, 4, 26)


def test_a_make_up_cancelled_in_time_is_owed_until_the_same_date_beside_the_limit(school) -> None:
    """A make-up cancelled in time is owed until the same date beside the limit."""
    school.cancel(school.lesson_on(FIRST))
    make_up = school.make_up(school.owed()[0], at("2027-01-26T18:00Z"), at("2027-01-20T09:00Z"))
    school.cancel(make_up)
    assert school.owed()[1].use_by == school.owed()[0].use_by
    school.cancel(school.lesson_on(THIRD))
    assert len(school.owed()) == 3


def test_a_corrected_register_takes_back_what_is_owed_or_owes_it(school) -> None:
    """A corrected register takes back what is owed or owes it."""
    lesson = school.lesson_on(FIRST)
    school.mark(lesson, Attendance.ABSENT_WITHOUT_NOTICE)
    assert school.owed() == []
    school.mark(lesson, Attendance.ABSENT_WITH_NOTICE)
    school.mark(lesson, Attendance.INSTRUCTOR_ABSENT)
    assert [row.cause for row in school.owed()] == [OwedCause.INSTRUCTOR_ABSENT]
    school.mark(lesson, Attendance.PRESENT)
    assert school.owed() == []
    verbs = AuditRow.objects.filter(thing="owedlesson").order_by("pk")
    assert list(verbs.values_list("verb", flat=True)) == ["owed", "corrected", "owed no more"]


def test_a_correction_is_refused_once_the_lesson_has_been_made_up(school) -> None:
    """A correction is refused once the lesson has been made up."""
    lesson = school.lesson_on(FIRST)
    school.mark(lesson, Attendance.INSTRUCTOR_ABSENT)
    make_up = school.make_up(school.owed()[0], at("2027-01-26T18:00Z"), at("2027-01-20T09:00Z"))
    found = refused("owed-settled", lambda: school.mark(lesson, Attendance.PRESENT))
    assert found.data == {"booking": make_up.pk}
    school.mark(lesson, Attendance.ABSENT_WITH_NOTICE)
    assert school.owed()[0].cause == OwedCause.ABSENT_WITH_NOTICE


def test_a_reinstated_lesson_is_not_owed_any_more(school) -> None:
    """A reinstated lesson is not owed any more."""
    lesson = school.lesson_on(SECOND)
    school.call_off(lesson, before=timedelta(days=9))
    school.reinstate(lesson, at("2027-01-18T09:00Z"))
    assert school.owed() == []


def test_a_lesson_is_not_reinstated_once_its_make_up_is_booked(school) -> None:
    """A lesson is not reinstated once its make-up is booked."""
    lesson = school.lesson_on(date(2027, 2, 9))
    school.call_off(lesson, before=timedelta(days=20))
    now = at("2027-01-22T09:00Z")
    make_up = school.make_up(school.owed()[0], at("2027-01-26T18:00Z"), now)
    refused("owed-settled", lambda: school.reinstate(lesson, now))
    school.call_off(make_up)
    school.reinstate(lesson, at("2027-01-25T09:00Z"))
    assert school.owed() == []
