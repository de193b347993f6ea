"""What a lesson leaves: given, owed, forfeited or nothing (TRADE.md 1.8)."""

from datetime import date, datetime, timedelta

import pytest

from bookings.domain.errors import Refused
from bookings.domain.owed import LessonEnd, check_use_by, left_by, limit_in_words, use_by_of
from bookings.domain.policy import Policy
from bookings.domain.vocabulary import Attendance, Ended, LessonOutcome, OwedCause

ENDS_AT = datetime.fromisoformat("2027-03-09T17:15Z")
AFTER = ENDS_AT + timedelta(hours=1)
OWED, FORFEITED, NOTHING, GIVEN = (
    LessonOutcome.OWED,
    LessonOutcome.FORFEITED,
    LessonOutcome.NOTHING,
    LessonOutcome.GIVEN,
)


def left(*, used: bool = False, **lesson: object) -> tuple[LessonOutcome, OwedCause | None]:
    found = left_by(LessonEnd(ends_at=ENDS_AT, **lesson), is_limit_used=used, now=AFTER)
    return found.outcome, found.cause


PROMISED, MAKE_UP, SINGLE = {"is_promised": True}, {"is_make_up": True}, {}


@pytest.mark.parametrize(
    ("ended", "promised", "make_up", "single"),
    [
        (Ended.CANCELLED_IN_TIME, OWED, OWED, NOTHING),
        (Ended.CANCELLED_LATE, FORFEITED, FORFEITED, FORFEITED),
        (Ended.CALLED_OFF, OWED, OWED, OWED),
        (Ended.DECLINED, OWED, OWED, NOTHING),
        (Ended.LEFT, NOTHING, NOTHING, NOTHING),
        (Ended.MOVED, NOTHING, NOTHING, NOTHING),
    ],
)
def test_what_an_ended_lesson_leaves(ended, promised, make_up, single) -> None:
    """Sources: TRADE.md 1.8, published policies of teachers and schools: in time is made up, late
    is not, and what the teacher cancels always is; 1.10: a student may refuse a substitute, and the
    lesson is made up.
    """
    for kind, outcome in ((PROMISED, promised), (MAKE_UP, make_up), (SINGLE, single)):
        assert left(ended=ended, **kind)[0] == outcome


@pytest.mark.parametrize(
    ("attendance", "promised", "make_up", "single"),
    [
        (Attendance.PRESENT, GIVEN, GIVEN, GIVEN),
        (Attendance.LATE, GIVEN, GIVEN, GIVEN),
        (Attendance.ABSENT_WITH_NOTICE, OWED, FORFEITED, NOTHING),
        (Attendance.ABSENT_WITHOUT_NOTICE, FORFEITED, FORFEITED, FORFEITED),
        (Attendance.INSTRUCTOR_ABSENT, OWED, OWED, OWED),
    ],
)
def test_what_a_marked_lesson_leaves(attendance, promised, make_up, single) -> None:
    """Source: a studio's published policy: a missed make-up is not made up (TRADE.md 1.8)."""
    for kind, outcome in ((PROMISED, promised), (MAKE_UP, make_up), (SINGLE, single)):
        assert left(attendance=attendance, **kind)[0] == outcome


def test_only_the_familys_own_absences_are_limited() -> None:
    """Source: published limits on make-ups, two a semester; the teacher's cause has none."""
    assert left(used=True, ended=Ended.CANCELLED_IN_TIME, **PROMISED)[0] == FORFEITED
    assert left(used=True, attendance=Attendance.ABSENT_WITH_NOTICE, **PROMISED)[0] == FORFEITED
    assert left(used=True, ended=Ended.CALLED_OFF, **PROMISED)[0] == OWED
    assert left(used=True, attendance=Attendance.INSTRUCTOR_ABSENT, **PROMISED)[0] == OWED
    assert left(used=True, ended=Ended.CANCELLED_IN_TIME, **MAKE_UP)[0] == OWED


def test_a_lesson_is_to_come_until_it_is_over_and_then_unmarked() -> None:
    """A lesson is to come until it is over and then unmarked."""
    for now, outcome in (
        (ENDS_AT - timedelta(minutes=1), LessonOutcome.TO_COME),
        (ENDS_AT, LessonOutcome.UNMARKED),
    ):
        found = left_by(LessonEnd(ends_at=ENDS_AT), is_limit_used=False, now=now)
        assert found.outcome == outcome


def test_a_make_up_is_to_begin_within_ninety_days_of_the_lesson() -> None:
    """Source: an association's standard terms, 90 days (TRADE.md 1.8). On the student's clock the
    lesson of 15 March at 01:00 in Dublin is on 14 March in New York.
    """
    start = datetime.fromisoformat("2027-03-15T01:00Z")
    assert use_by_of(start, "Europe/Dublin", Policy()) == date(2027, 6, 13)
    assert use_by_of(start, "America/New_York", Policy()) == date(2027, 6, 12)


def test_use_by_is_judged_at_the_start_of_the_make_up_on_the_students_clock() -> None:
    """Use-by is judged at the start of the make-up on the student’s clock."""
    last = date(2027, 6, 12)
    check_use_by(datetime.fromisoformat("2027-06-13T03:59Z"), last, "America/New_York")
    with pytest.raises(Refused) as caught:
        check_use_by(datetime.fromisoformat("2027-06-13T04:00Z"), last, "America/New_York")
    assert caught.value.code == "use-by-passed"
    assert "12 June 2027" in caught.value.detail


@pytest.mark.parametrize(
    ("used", "allowed", "said"),
    [
        (0, 2, "It is the first of two you may make up this term."),
        (1, 2, "It is the second of two you may make up this term."),
        (2, 2, "You have used the two you may make up this term, so this lesson will not be made"),
        (0, 1, "It is the only lesson you may make up this term."),
        (0, 0, "Lessons that you cancel are not made up."),
        (10, 12, "It is the number 11 of 12 you may make up this term."),
    ],
)
def test_the_limit_is_said_before_the_family_cancels(used, allowed, said) -> None:
    """The limit is said before the family cancels."""
    assert limit_in_words(used, Policy(make_ups_a_term=allowed)).startswith(said)
