"""Weekly places against a walk of every date and wall time of the term, and the words of a refusal."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from bookings.domain import weekly
from bookings.domain.burden import burden
from bookings.domain.errors import Refused
from bookings.domain.hours import Away, TeachingTime, WeeklyWindow
from bookings.domain.policy import Policy
from bookings.domain.slots import InstructorTime, OfferingRules, StudentTime
from bookings.domain.terms import Term
from bookings.domain.timeline import Period
from bookings.domain.vocabulary import Grid
from bookings.domain.weekly import (
    WeeklyRequest,
    WeeklyTime,
    ends_at_minute,
    judge_weekly,
    pairs,
    weekly_options,
)
from tests.unit import brute
from tests.unit.times import situations

NOW = datetime(2027, 1, 4, 9, tzinfo=UTC)
TERM = Term(date(2027, 1, 11), date(2027, 4, 9), ((date(2027, 2, 15), date(2027, 2, 21)),))
LESSON = OfferingRules(45, 10, Grid.CLOCK, 30)
TUESDAY = 1
ILSE = InstructorTime(
    1, "Europe/Dublin", TeachingTime((WeeklyWindow(TUESDAY, 930, 1230, "Europe/Dublin"),))
)
MARLO = StudentTime(1, "America/New_York")
HALF_PAST_FOUR = WeeklyTime(TUESDAY, 16 * 60 + 30)


class Walk:
    """Every date of a term and every five minutes of it, judged by the minute-by-minute rules, which share no code with the solver."""

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


@st.composite
def terms(draw):
    """(term, offering, instructor, student, policy, now): up to ten days around a day on which clocks may change."""
    offering, instructor, student, policy, now, since, _ = draw(situations())
    first_on = since.date() - timedelta(days=draw(st.integers(0, 5)))
    last_on = first_on + timedelta(days=draw(st.integers(0, 9)))
    days = (last_on - first_on).days
    begins = draw(st.lists(st.integers(0, days), max_size=2))
    breaks = tuple(
        (first_on + timedelta(days=k), first_on + timedelta(days=draw(st.integers(k, days))))
        for k in begins
    )
    return Term(first_on, last_on, breaks), offering, instructor, student, policy, now


@given(terms())
def test_options_are_the_weekly_times_that_hold_a_date(case):
    """Dates held, dates failed with their code, dates away, burdens and rank equal those of the walk, for every wall time of the week."""
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


@given(terms(), st.integers(0, 6), st.integers(0, 287))
def test_one_weekly_time_is_judged_as_the_search_judges_it(case, weekday, cell):
    """Judging a wall time alone, without what the search knows already, says the same of every date."""
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


def test_a_whole_term_beyond_the_horizon():
    """The horizon of 60 days does not stop a term: all 12 Tuesdays are held (the term of the trade's own scenario)."""
    option = judge_weekly(WeeklyRequest(TERM, LESSON), HALF_PAST_FOUR, ILSE, MARLO, Policy(), NOW)
    assert (len(option.held), option.failed, option.away) == (12, (), ())
    assert (option.held[0].on, option.held[-1].on) == (date(2027, 1, 12), date(2027, 4, 6))
    assert [(shift.on, shift.before, shift.after) for shift in option.shifts] == [
        (date(2027, 3, 16), "11:30", "12:30"),
        (date(2027, 3, 30), "12:30", "11:30"),
    ]


def test_the_lead_time_is_asked_of_the_first_date_only():
    """Three hours before the first lesson it is too soon for that one; the eleven others are held. Given up knowingly, it is no part."""
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
    """Days away are skipped; another meeting and the student's own fail by their codes and sentences."""
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


def test_a_minor_keeps_her_hours_through_the_clock_changes():
    """Tuesday 10:00 in Dublin is 21:00 in Sydney until 23 March (11 h apart, STANDARDS 5), 20:00 on 30 March and 19:00 on 6 April 2027."""
    ilse = replace(ILSE, teaching=TeachingTime((WeeklyWindow(TUESDAY, 540, 720, "Europe/Dublin"),)))
    posy = StudentTime(2, "Australia/Sydney", adult_on=date(2034, 6, 1))
    option = judge_weekly(
        WeeklyRequest(TERM, LESSON), WeeklyTime(TUESDAY, 600), ilse, posy, Policy(), NOW
    )
    assert [day.on for day in option.held] == [date(2027, 3, 30), date(2027, 4, 6)]
    assert {day.code for day in option.failed} == {"minor-hours"}
    assert [(shift.before, shift.after) for shift in option.shifts] == [("20:00", "19:00")]


def test_a_wall_time_in_a_gap_fails_on_that_date_alone():
    """Sundays 02:30 in New York do not exist on 14 March 2027 (IANA); the other Sundays are held."""
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
    """Sunday 01:30 on 7 November 2027 in New York comes twice: the earlier one is meant (RFC 5545 section 3.3.5)."""
    wren = InstructorTime(
        2, "America/New_York", TeachingTime((WeeklyWindow(6, 60, 240, "America/New_York"),))
    )
    term = Term(date(2027, 11, 1), date(2027, 11, 14))
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
    """After a lesson and its 5 minutes of changeover the next start of the grid follows: 16:30 after 16:00, in a chain 16:05."""
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
    """Both hold all dates: the pair whose greatest burden is least comes first, though its sum is greater; one alone is no pair."""

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
    """A full year of lessons does not make each of its dates dearer: a rule asks of nine days before and after, no more."""
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
