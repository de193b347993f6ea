"""The hours that a family says, stored, and read again as the costs of a student's week."""

from datetime import date, datetime, timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from accounts.models import Student
from bookings.domain.errors import Refused
from bookings.domain.student_hours import SaidHours, UsualHours, WishedWindow
from bookings.domain.terms import TermDates
from bookings.domain.timeline import Period
from bookings.domain.vocabulary import Wish
from bookings.models import AuditRow, OutboxMessage, StudentHours, StudentWeek, Term
from bookings.models.guards.refusals import as_refusal
from bookings.operations.student_hours import say_hours
from bookings.queries.student_hours import presumed_for, week_of
from bookings.queries.student_times import hour_of, student_time
from tests.cast import NOW, give_account, make_admin, make_minor, make_student, user_of

pytestmark = pytest.mark.django_db

WINDOWS = (
    WishedWindow(0, 960, 1080, Wish.GLADLY),
    WishedWindow(2, 0, 480, Wish.NEVER),
    WishedWindow(2, 480, 1440, Wish.LAST),
    WishedWindow(6, 600, 660, Wish.POSSIBLE),
)
SCHOOL = (480, 930)


@pytest.fixture
def noor() -> Student:
    return make_student()


@pytest.fixture
def posy() -> Student:
    return make_minor()


def spring() -> Term:
    """A term with a break, and one of the year before."""
    term = Term.objects.create(
        name="Spring",
        first_on=date(2027, 1, 11),
        last_on=date(2027, 4, 9),
        lessons_promised=12,
    )
    term.breaks.create(first_on=date(2027, 3, 10), last_on=date(2027, 3, 12))
    term.breaks.create(first_on=date(2027, 2, 15), last_on=date(2027, 2, 21))
    Term.objects.create(
        name="Autumn",
        first_on=date(2026, 9, 1),
        last_on=date(2026, 12, 18),
        lessons_promised=12,
    )
    return term


def said_of(student: Student, now: datetime = NOW) -> SaidHours:
    return student_time(student, now, now + timedelta(days=14), with_hours=True).said


def say(student: Student, by, windows=WINDOWS, school=None, version=None) -> StudentWeek:
    return say_hours(
        actor=by, student=student, windows=windows, school=school, version=version, now=NOW
    )


def test_what_is_said_is_read_again_with_the_terms_of_those_days(noor: Student) -> None:
    """One query, as without them; breaks outside the stretch are not read."""
    spring()
    assert say(noor, user_of(noor), school=SCHOOL).version == 1
    with CaptureQueriesContext(connection) as queries:
        found = said_of(noor)
    assert len(queries) == 1
    term = TermDates(date(2027, 1, 11), date(2027, 4, 9), ((date(2027, 3, 10), date(2027, 3, 12)),))
    assert found == SaidHours(WINDOWS, SCHOOL, False, (term,))


def test_saying_hours_again_replaces_them_and_tells_nobody(noor: Student) -> None:
    """Each time one audit row and no email."""
    say(noor, user_of(noor))
    week = say(noor, user_of(noor), windows=WINDOWS[:1], version=1)
    assert week.version == 2
    assert said_of(noor).windows == WINDOWS[:1]
    rows = AuditRow.objects.filter(verb="said hours", thing="studentweek", thing_id=week.pk)
    assert [row.actor for row in rows] == [noor.user, noor.user]
    assert not OutboxMessage.objects.exists()


def test_hours_said_meanwhile_are_not_lost(noor: Student) -> None:
    """A version that was read before them is refused."""
    say(noor, user_of(noor))
    with pytest.raises(Refused) as refused:
        say(noor, user_of(noor), windows=(), version=0)
    assert refused.value.code == "stale"
    assert said_of(noor).windows == WINDOWS


def test_the_usual_hours_count_until_a_guardian_has_said_something(posy: Student) -> None:
    """Saying nothing special confirms that nothing is usual."""
    assert said_of(posy) == SaidHours(is_presumed=True)
    assert presumed_for(week_of(posy), now=NOW) == UsualHours(SCHOOL, 1230)
    say(posy, posy.guardianships.get().guardian, windows=())
    assert said_of(posy) == SaidHours()
    assert presumed_for(week_of(posy), now=NOW) is None


def test_what_a_child_says_counts_beside_the_usual_hours(posy: Student) -> None:
    """Until a guardian or an admin says it; and again when the child changes it."""
    child = give_account(posy)
    say(posy, child, school=SCHOOL)
    assert said_of(posy) == SaidHours(WINDOWS, SCHOOL, is_presumed=True)
    say(posy, make_admin())
    assert not said_of(posy).is_presumed
    say(posy, child)
    assert said_of(posy).is_presumed


def test_nothing_is_presumed_of_a_child_who_has_come_of_age(posy: Student) -> None:
    """From the first hour of that birthday on."""
    of_age = datetime(2034, 6, 1, 12, tzinfo=NOW.tzinfo)
    assert presumed_for(week_of(posy), now=of_age) is None


def test_a_booking_reads_none_of_it(noor: Student) -> None:
    """Nothing is refused by what a family says, so whoever checks a start does not ask."""
    say(noor, user_of(noor))
    assert student_time(noor, NOW, NOW + timedelta(days=1)).said == SaidHours()


def test_the_cost_of_one_meeting_is_one_query(noor: Student) -> None:
    """Monday 1 March 2027, 16:00 in New York."""
    say(noor, user_of(noor))
    starts_at = datetime(2027, 3, 1, 21, 0, tzinfo=NOW.tzinfo)
    with CaptureQueriesContext(connection) as queries:
        hour = hour_of(noor, Period(starts_at, starts_at + timedelta(minutes=25)))
    assert (hour.cost, hour.words, len(queries)) == (0, "An hour marked “gladly”.", 1)


@pytest.mark.parametrize(
    "broken",
    [
        {"opens": 600, "closes": 600},
        {"opens": 600, "closes": 1441},
        {"weekday": 7},
        {"wish": "perhaps"},
    ],
)
def test_a_window_that_no_rule_allows_breaks_a_guard(noor: Student, broken) -> None:
    """Order, end of day, weekday and word."""
    week = StudentWeek.objects.create(student=noor)
    row = {"weekday": 0, "opens": 600, "closes": 660, "wish": Wish.NEVER, **broken}
    with pytest.raises(IntegrityError), transaction.atomic():
        StudentHours.objects.create(week=week, **row)


@pytest.mark.parametrize("school", [(480, None), (None, 930), (930, 480), (480, 1445)])
def test_school_hours_that_no_rule_allows_break_a_guard(noor: Student, school) -> None:
    """Both or neither, in order, by midnight."""
    with pytest.raises(IntegrityError), transaction.atomic():
        StudentWeek.objects.create(student=noor, school_opens=school[0], school_closes=school[1])


def test_two_windows_that_open_together_are_refused_in_words(noor: Student) -> None:
    """The guard against a race speaks as the rule does."""
    week = StudentWeek.objects.create(student=noor)
    row = {"week": week, "weekday": 0, "opens": 600, "closes": 660}
    StudentHours.objects.create(wish=Wish.NEVER, **row)
    with pytest.raises(IntegrityError) as broken, transaction.atomic():
        StudentHours.objects.create(wish=Wish.GLADLY, **row)
    refusal = as_refusal(broken.value)
    assert refusal is not None
    assert refusal.code == "invalid"
