"""The times that a family may wish for are told on cells: judging each of them says the same."""

from dataclasses import replace
from datetime import timedelta

from hypothesis import given
from hypothesis import strategies as st

from bookings.domain.planning.exchanges import Move
from bookings.domain.planning.exchanges_judged import ExchangeProblem, Holding, is_whole
from bookings.domain.policy import Policy
from bookings.domain.timeline import Period
from bookings.domain.weekly import WeeklyRequest, WeeklyTime, judge_weekly
from tests.unit.weekly_cases import HALF_PAST_FOUR, ILSE, LESSON, MARLO, NOW, TERM, terms

MINE = 1


@st.composite
def problems(draw):
    """A term of some days with the student's own place and some thirty others; some of the lessons
    ahead of each are among what its people are held in.
    """
    term, offering, instructor, student, policy, now = draw(terms())
    taught = [(instructor.id, period) for period in instructor.meetings]
    learnt = [(instructor.id, period) for period in student.meetings]

    def holding(weekday, minute, student_id, lessons):
        stays = term.first_on + timedelta(days=draw(st.integers(-9, 3)))
        given_up = tuple(draw(st.lists(st.sampled_from(lessons), max_size=3)) if lessons else ())
        at = WeeklyTime(weekday, minute)
        return Holding(at, offering, instructor, student_id, given_up, stays)

    holdings = {MINE: holding(0, 600, student.id, taught + learnt)}
    first = draw(st.integers(0, 11)) * 5
    for pk, minute in enumerate(range(first, 1440, 45), MINE + 1):
        weekday = (term.first_on.weekday() + pk) % 7
        holdings[pk] = holding(weekday, minute, student.id + pk, taught)
    return ExchangeProblem((), holdings, {student.id: student}, term, policy, now)


@given(problems())
def test_whole_times_are_those_that_judging_finds_whole(problem):
    """For every place, with its dates, burdens and shifts."""
    others = [pk for pk in problem.holdings if pk != MINE]
    judged = {pk: problem.judge(Move(MINE, pk), [MINE, pk]) for pk in others}
    expected = {pk: option for pk, option in judged.items() if is_whole(option)}
    assert problem.whole_times(MINE, others) == expected


def test_a_time_is_whole_where_its_own_lessons_make_room():
    """The lessons of both places are given up, so they do not stand in the way."""
    option = judge_weekly(WeeklyRequest(TERM, LESSON), HALF_PAST_FOUR, ILSE, MARLO, Policy(), NOW)
    begins = [day.starts_at for day in option.held]
    lessons = tuple((ILSE.id, Period(at, at + timedelta(minutes=55))) for at in begins)
    taught = tuple(Period(at, at + timedelta(minutes=45)) for at in begins)
    full = replace(ILSE, meetings=tuple(period for _, period in lessons), taught=taught)
    stays = TERM.first_on - timedelta(days=7)
    mine = Holding(WeeklyTime(0, 960), LESSON, full, MARLO.id, (), stays)
    theirs = Holding(HALF_PAST_FOUR, LESSON, full, 9, lessons, stays)
    problem = ExchangeProblem((), {1: mine, 2: theirs}, {MARLO.id: MARLO}, TERM, Policy(), NOW)
    assert list(problem.whole_times(1, [2])) == [2]
    kept = replace(theirs, lessons=lessons[1:])
    problem = replace(problem, holdings={1: mine, 2: kept})
    assert problem.whole_times(1, [2]) == {}
