"""The search for weekly times agrees with a plain walk over every date."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from hypothesis import assume, given
from hypothesis import strategies as st

from bookings.domain.burden import burden
from bookings.domain.timeline import Period
from bookings.domain.weekly import WeeklyRequest, WeeklyTime, judge_weekly
from bookings.domain.weekly_options import weekly_options
from bookings.domain.weekly_search import WeeklySearch
from tests.unit import brute
from tests.unit.weekly_cases import terms


class Walk:
    """Every date of a term and every five minutes of it, judged by the minute-by-minute rules,
    which share no code with the solver.
    """

    def __init__(self, term, offering, instructor, student, policy, now):
        self.offering, self.instructor, self.student, self.policy, self.now = (
            offering,
            instructor,
            student,
            policy,
            now,
        )
        since, until = (
            datetime(on.year, on.month, on.day, tzinfo=UTC) for on in (term.first_on, term.last_on)
        )
        since, until = since - timedelta(days=2), until + timedelta(days=3)
        relaxed = replace(policy, lead_time_minutes=0, horizon_days=10_000)
        self.rules = brute.Rules(offering, instructor, student, relaxed, since, since, until)
        self.instants = {}
        for instant in brute.minutes_between(since, until):
            self.instants.setdefault(brute.wall(instant, instructor.time_zone), instant)
        self.dates = []
        on = term.first_on
        while on <= term.last_on:
            if not any(first <= on <= last for first, last in term.breaks):
                self.dates.append(on)
            on += timedelta(days=1)

    def judge(self, weekday, minute):
        """(dates held with their starts, dates failed with their codes, dates away)."""
        held, failed, away, judged = {}, {}, [], 0
        for on in self.dates:
            if on.weekday() != weekday:
                continue
            start = self.instants.get((on, minute))
            if start is None:
                failed[on] = "clock-gap"
            elif start >= self.now:
                if brute.is_away(self.instructor.teaching, start):
                    away.append(on)
                    continue
                judged += 1
                too_soon = judged == 1 and start < self.now + timedelta(
                    minutes=self.policy.lead_time_minutes
                )
                code = "too-soon" if too_soon else self.rules.first_refusal(start)
                if code:
                    failed[on] = code
                else:
                    held[on] = start
        return held, failed, away


@given(terms())
def test_options_are_the_weekly_times_that_hold_a_date(case):
    """Dates held, dates failed with their code, dates away, burdens and rank equal those of the
    walk, for every wall time of the week.
    """
    term, offering, instructor, student, policy, now = case
    walk = Walk(term, offering, instructor, student, policy, now)
    found = weekly_options(WeeklyRequest(term, offering), [instructor], student, policy, now)
    expected = {}
    for weekday in range(7):
        for minute in range(0, 1440, 5):
            held, failed, away = walk.judge(weekday, minute)
            if held:
                expected[WeeklyTime(weekday, minute)] = (held, failed, tuple(away))
    seen = {
        option.at: (
            {day.on: day.starts_at for day in option.held},
            {day.on: day.code for day in option.failed},
            option.away,
        )
        for option in found
    }
    assert seen == expected
    for option in found:
        ends = timedelta(minutes=offering.minutes)
        costs = [
            burden(Period(day.starts_at, day.starts_at + ends), student.time_zone)
            for day in option.held
        ]
        assert (option.greatest_burden, option.sum_of_burdens) == (max(costs), sum(costs))
    ranks = [
        (-len(o.held), o.greatest_burden, o.sum_of_burdens, o.held[0].starts_at) for o in found
    ]
    assert ranks == sorted(ranks)


@given(terms())
def test_options_without_reasons_are_the_same_but_for_the_reasons(case):
    """The same times in the same order, and the same dates held, failed and away."""
    term, offering, instructor, student, policy, now = case
    search = WeeklySearch(WeeklyRequest(term, offering), [instructor], student, policy, now)
    full, quick = (
        [search.option(one, with_reasons=told) for one in search.ranked] for told in (True, False)
    )

    def bare(option):
        return replace(option, failed=tuple(day.on for day in option.failed))

    assert [bare(option) for option in quick] == [bare(option) for option in full]


@given(terms(), st.integers(0, 6), st.integers(0, 287))
def test_one_weekly_time_is_judged_as_the_search_judges_it(case, weekday, cell):
    """Judging a wall time alone, without what the search knows already, says the same of every
    date.
    """
    term, offering, instructor, student, policy, now = case
    held, failed, away = Walk(term, offering, instructor, student, policy, now).judge(
        weekday, cell * 5
    )
    option = judge_weekly(
        WeeklyRequest(term, offering),
        WeeklyTime(weekday, cell * 5),
        instructor,
        student,
        policy,
        now,
    )
    assert {day.on: day.starts_at for day in option.held} == held
    assert {day.on: day.code for day in option.failed} == failed
    assert list(option.away) == away


@given(terms(), st.integers(0, 287), st.integers(1, 288))
def test_the_hours_a_student_asks_for_hold_every_meeting(case, earliest, latest):
    """An option stays only where each of its meetings lies in those hours of the student's day."""
    assume(earliest < latest)
    term, offering, instructor, student, policy, now = case
    first, past = earliest * 5, latest * 5
    every = weekly_options(WeeklyRequest(term, offering), [instructor], student, policy, now)
    asked = weekly_options(
        WeeklyRequest(term, offering, earliest=first, latest=past),
        [instructor],
        student,
        policy,
        now,
    )

    def holds(option):
        return all(
            brute.day_window_holds(day.starts_at, offering.minutes, student.time_zone, first, past)
            for day in option.held
        )

    assert asked == [option for option in every if (first, past) == (0, 1440) or holds(option)]
