"""Weekly places against a walk of every date and wall time of a term, and a refusal's words."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from bookings.domain import weekly
from bookings.domain.errors import Refused
from bookings.domain.hours import Away, TeachingTime, WeeklyWindow
from bookings.domain.policy import Policy
from bookings.domain.slots import InstructorTime, OfferingRules, StudentTime
from bookings.domain.terms import TermDates
from bookings.domain.timeline import Period
from bookings.domain.vocabulary import Grid
from bookings.domain.weekly import WeeklyRequest, WeeklyTime, ends_at_minute, judge_weekly
from bookings.domain.weekly_options import pairs, weekly_options
from tests.unit.weekly_cases import HALF_PAST_FOUR, ILSE, LESSON, MARLO, NOW, TERM, TUESDAY


def test_a_whole_term_beyond_the_horizon():
    """The horizon of 60 days does not stop a term: all 12 Tuesdays are held (the term of the
    trade's own scenario).
    """
    option = judge_weekly(WeeklyRequest(TERM, LESSON), HALF_PAST_FOUR, ILSE, MARLO, Policy(), NOW)
    assert (len(option.held), option.failed, option.away) == (12, (), ())
    assert (option.held[0].on, option.held[-1].on) == (date(2027, 1, 12), date(2027, 4, 6))
    assert [(shift.on, shift.before, shift.after) for shift in option.shifts] == [
        (date(2027, 3, 16), "11:30", "12:30"),
        (date(2027, 3, 30), "12:30", "11:30"),
    ]


def test_the_lead_time_is_asked_of_the_first_date_only():
    """Three hours before the first lesson it is too soon for that one; the eleven others are held.

    Given up knowingly, it is no part.
    """
    now = datetime(2027, 1, 12, 13, 30, tzinfo=UTC)
    option = judge_weekly(WeeklyRequest(TERM, LESSON), HALF_PAST_FOUR, ILSE, MARLO, Policy(), now)
    assert [(day.on, day.code) for day in option.failed] == [(date(2027, 1, 12), "too-soon")]
    assert len(option.held) == 11
    without = WeeklyRequest(TERM, LESSON, without=frozenset({date(2027, 1, 12)}))
    option = judge_weekly(without, HALF_PAST_FOUR, ILSE, MARLO, Policy(), now)
    assert (len(option.held), option.failed) == (11, ())


def test_dates_that_have_passed_are_no_part_of_it():
    """In the middle of a term the place begins with the dates that lie ahead."""
    option = judge_weekly(
        WeeklyRequest(TERM, LESSON),
        HALF_PAST_FOUR,
        ILSE,
        MARLO,
        Policy(),
        datetime(2027, 3, 25, tzinfo=UTC),
    )
    assert [day.on for day in option.held] == [date(2027, 3, 30), date(2027, 4, 6)]


def test_each_date_fails_by_the_name_of_its_rule():
    """Days away are skipped; another meeting and the student's own fail by their codes and
    sentences.
    """
    taken = Period(datetime(2027, 1, 19, 16, tzinfo=UTC), datetime(2027, 1, 19, 16, 35, tzinfo=UTC))
    own = Period(datetime(2027, 1, 26, 17, tzinfo=UTC), datetime(2027, 1, 26, 18, tzinfo=UTC))
    away = Away(date(2027, 2, 2), date(2027, 2, 3), "Europe/Dublin")
    ilse = replace(ILSE, teaching=replace(ILSE.teaching, away=(away,)), meetings=(taken,))
    option = judge_weekly(
        WeeklyRequest(TERM, LESSON),
        HALF_PAST_FOUR,
        ilse,
        replace(MARLO, meetings=(own,)),
        Policy(),
        NOW,
    )
    assert {day.on: (day.code, day.detail.split(":")[0]) for day in option.failed} == {
        date(2027, 1, 19): ("taken", "That time is not free"),
        date(2027, 1, 26): (
            "own-clash",
            "The student already has a lesson or meeting at that time",
        ),
    }
    assert option.away == (date(2027, 2, 2),)
    assert len(option.held) == 9


def test_a_minor_keeps_their_hours_through_the_clock_changes():
    """Tuesday 10:00 in Dublin is 21:00 in Sydney until 23 March (11 h apart, STANDARDS 5), 20:00 on
    30 March and 19:00 on 6 April 2027.
    """
    ilse = replace(ILSE, teaching=TeachingTime((WeeklyWindow(TUESDAY, 540, 720, "Europe/Dublin"),)))
    posy = StudentTime(2, "Australia/Sydney", adult_on=date(2034, 6, 1))
    option = judge_weekly(
        WeeklyRequest(TERM, LESSON), WeeklyTime(TUESDAY, 600), ilse, posy, Policy(), NOW
    )
    assert [day.on for day in option.held] == [date(2027, 3, 30), date(2027, 4, 6)]
    assert {day.code for day in option.failed} == {"minor-hours"}
    assert [(shift.before, shift.after) for shift in option.shifts] == [("20:00", "19:00")]


def test_a_wall_time_in_a_gap_fails_on_that_date_alone():
    """Sunday 02:30 in New York does not exist on 14 March 2027 (IANA); other Sundays are held."""
    wren = InstructorTime(
        2, "America/New_York", TeachingTime((WeeklyWindow(6, 120, 240, "America/New_York"),))
    )
    option = judge_weekly(
        WeeklyRequest(TERM, LESSON), WeeklyTime(6, 150), wren, MARLO, Policy(), NOW
    )
    assert [(day.on, day.code) for day in option.failed] == [(date(2027, 3, 14), "clock-gap")]
    assert "jump over 2027-03-14 02:30" in option.failed[0].detail
    assert (
        len(option.held) == 10
    )  # 12 Sundays from 17 January to 4 April, less the one in the break and the one in the gap


def test_a_repeated_hour_means_its_first_instant():
    """Sunday 01:30 on 7 November 2027 in New York comes twice: the earlier one is meant (RFC 5545
    section 3.3.5).
    """
    wren = InstructorTime(
        2, "America/New_York", TeachingTime((WeeklyWindow(6, 60, 240, "America/New_York"),))
    )
    term = TermDates(date(2027, 11, 1), date(2027, 11, 14))
    option = judge_weekly(
        WeeklyRequest(term, LESSON),
        WeeklyTime(6, 90),
        wren,
        MARLO,
        Policy(),
        datetime(2027, 10, 1, tzinfo=UTC),
    )
    assert option.held[0].starts_at == datetime(2027, 11, 7, 5, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    ("grid", "minutes", "first", "second"),
    [("clock", 25, 960, 990), ("clock", 30, 960, 1020), ("window", 30, 930, 965)],
)
def test_a_sibling_is_placed_next_on_the_grid(grid, minutes, first, second):
    """After a lesson and its 5 minutes of changeover the next start of the grid follows: 16:30
    after 16:00, in a chain 16:05.
    """
    offering = OfferingRules(minutes, 5, Grid(grid), 35 if grid == "window" else 30)
    if minutes == 30 and grid == "clock":
        offering = replace(offering, step_minutes=60)
    after = ends_at_minute(WeeklyTime(TUESDAY, first), offering)
    found = weekly_options(WeeklyRequest(TERM, offering, after=after), [ILSE], MARLO, Policy(), NOW)
    assert [option.at for option in found] == [WeeklyTime(TUESDAY, second)]


@pytest.mark.parametrize(("weekday", "minute"), [(-1, 0), (7, 0), (0, -1), (0, 1440)])
def test_a_weekly_time_is_one_of_a_week(weekday, minute):
    """24:00 is no time of its own day; neither is there an eighth weekday."""
    with pytest.raises(Refused) as refusal:
        WeeklyTime(weekday, minute)
    assert refusal.value.code == "invalid"


def test_past_midnight_the_next_start_is_on_the_next_day():
    """Sunday 23:30 and 45 + 10 minutes end on Monday at 00:25."""
    assert ends_at_minute(WeeklyTime(6, 1410), LESSON) == WeeklyTime(0, 25)


def test_pairs_are_ranked_by_the_worse_off_of_the_two():
    """Both hold all dates: the pair whose greatest burden is least comes first, though its sum is
    greater; one alone is no pair.
    """

    def option(minute, *costs):
        starts = datetime(2027, 1, 12, tzinfo=UTC) + timedelta(minutes=minute)
        base = judge_weekly(WeeklyRequest(TERM, LESSON), HALF_PAST_FOUR, ILSE, MARLO, Policy(), NOW)
        held = tuple(replace(base.held[0], starts_at=starts, burden=cost) for cost in costs)
        return replace(base, at=WeeklyTime(TUESDAY, minute), held=held)

    half_hour = replace(LESSON, minutes=25, changeover_minutes=5)
    uneven, even = (option(930, 0, 0), option(960, 3, 0)), (option(1110, 1, 1), option(1140, 1, 1))
    alone = option(1200, 0, 0)
    assert pairs([uneven[0], even[0], alone], [uneven[1], even[1]], half_hour, half_hour) == [
        even,
        uneven,
    ]


def test_each_date_looks_at_the_meetings_around_it(monkeypatch):
    """A full year of lessons does not make each of its dates dearer: a rule asks of nine days
    before and after, no more.
    """
    looked_at = []
    monkeypatch.setattr(
        weekly,
        "check_start",
        lambda start, rules, who, *rest: looked_at.append((len(who.meetings), len(who.taught))),
    )
    lessons = tuple(
        Period(NOW + timedelta(days=day), NOW + timedelta(days=day, minutes=45))
        for day in range(365)
    )
    ilse = replace(ILSE, meetings=lessons, taught=lessons)
    judge_weekly(WeeklyRequest(TERM, LESSON), HALF_PAST_FOUR, ilse, MARLO, Policy(), NOW)
    assert len(looked_at) == 12
    assert max(looked_at) <= (18, 18)
