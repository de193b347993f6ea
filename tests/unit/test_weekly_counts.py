"""What ranks a weekly time is counted on masks: judging each date says the same."""

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookings.domain.hours import Away, TeachingTime, WeeklyWindow
from bookings.domain.policy import Policy
from bookings.domain.slots import InstructorTime, OfferingRules, StudentTime
from bookings.domain.terms import TermDates
from bookings.domain.vocabulary import Grid
from bookings.domain.weekly import WeeklyRequest, WeeklyTime, judge_weekly
from bookings.domain.weekly_costs import NEVER
from bookings.domain.weekly_search import WeeklySearch
from tests.unit.weekly_cases import terms

TUESDAY = 1
TERM = TermDates(date(2027, 1, 11), date(2027, 4, 9))
LESSON = OfferingRules(45, 10, Grid.CLOCK, 30)
NOW = datetime(2027, 1, 11, 9, tzinfo=UTC)
MARLO = StudentTime(1, "America/New_York")
AT_FIVE = WeeklyTime(TUESDAY, 17 * 60)


def ilse(away: Away) -> InstructorTime:
    window = WeeklyWindow(TUESDAY, 1020, 1080, "Europe/Dublin")
    return InstructorTime(1, "Europe/Dublin", TeachingTime((window,), away=(away,)))


@given(terms(), st.integers(0, 2))
def test_every_weekly_time_is_ranked_by_what_its_dates_say(case, weeks):
    """Of all wall times of the week, judged one by one past the search, those that hold a date at
    no hour marked “never” are ranked, each by its own dates; in the middle of a term too.
    """
    term, offering, instructor, student, policy, now = case
    now += timedelta(days=3 * weeks)
    request = WeeklyRequest(term, offering)
    search = WeeklySearch(request, [instructor], student, policy, now)
    plain = [
        judge_weekly(request, WeeklyTime(weekday, minute), instructor, student, policy, now)
        for weekday in range(7)
        for minute in range(0, 1440, 5)
    ]
    expected = {one.at: one for one in plain if one.held and one.greatest_burden < NEVER}
    assert {one.at: search.option(one) for one in search.ranked} == expected
    for one in search.ranked:
        option = expected[one.at]
        assert one.held_dates == option.held_dates
        assert one.greatest_burden == option.greatest_burden
        assert one.sum_of_burdens == option.sum_of_burdens
        assert one.first_at == option.first_at


@pytest.mark.parametrize("lead_days", [1, 9, 20])
@pytest.mark.parametrize("away_until", [11, 12, 19, 26])
def test_only_the_first_date_not_away_can_be_too_soon(lead_days, away_until):
    """A lead time of weeks reaches beyond the second date, and a date away is not the first."""
    instructor = ilse(Away(date(2027, 1, 11), date(2027, 1, away_until), "Europe/Dublin"))
    policy = Policy(lead_time_minutes=lead_days * 24 * 60)
    request = WeeklyRequest(TERM, LESSON)
    search = WeeklySearch(request, [instructor], MARLO, policy, NOW)
    plain = judge_weekly(request, AT_FIVE, instructor, MARLO, policy, NOW)
    (counted,) = [one for one in search.ranked if one.at == AT_FIVE]
    assert (counted.held_dates, counted.first_at) == (plain.held_dates, plain.first_at)
    assert search.option(counted) == plain
