"""What the hours of a student's week cost: the family's words, the curve, and what is presumed."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookings.domain.burden import HARD, burden
from bookings.domain.student_hours import NOTHING_SAID, SaidHours, WishedWindow
from bookings.domain.timeline import Period
from bookings.domain.vocabulary import Wish
from bookings.domain.weekly_costs import NEVER, WeeklyCosts, stretches_of
from tests.unit.brute_costs import cost_of
from tests.unit.said_weeks import TERM, weeks

ZONES = ("Europe/Dublin", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu")
CHANGES = (datetime(2027, 3, 14, tzinfo=UTC), datetime(2027, 10, 31, tzinfo=UTC))
USUAL = SaidHours(is_presumed=True, terms=(TERM,))


def hour(text: str, minutes: int = 30) -> Period:
    """A period from its start in Abidjan, whose clock shows UTC all year."""
    starts_at = datetime.fromisoformat(text).replace(tzinfo=UTC)
    return Period(starts_at, starts_at + timedelta(minutes=minutes))


def cost(text: str, said: SaidHours, adult_on: date | None = None, minutes: int = 30) -> int:
    return WeeklyCosts("Africa/Abidjan", adult_on, said).of(hour(text, minutes)).cost


def said(*windows: tuple[int, int, int, Wish]) -> SaidHours:
    """Windows of (weekday, first hour, past hour, wish)."""
    return SaidHours(
        tuple(WishedWindow(day, opens * 60, past * 60, wish) for day, opens, past, wish in windows)
    )


@given(
    near=st.sampled_from(CHANGES),
    zone=st.sampled_from(ZONES),
    cells=st.integers(-600, 600),
    minutes=st.integers(1, 36).map(lambda n: 5 * n),
    adult_on=st.sampled_from((None, date(2027, 3, 14), date(2034, 6, 1), date(2042, 1, 31))),
    week=weeks(),
)
def test_the_cost_is_the_greatest_minute_by_minute(near, zone, cells, minutes, adult_on, week):
    """Through gaps, folds and half hours of both clock changes, for adults and minors."""
    starts_at = near + timedelta(minutes=5 * cells)
    period = Period(starts_at, starts_at + timedelta(minutes=minutes))
    assert WeeklyCosts(zone, adult_on, week).of(period).cost == cost_of(
        period, zone, adult_on, week
    )


@given(
    near=st.sampled_from(CHANGES),
    zone=st.sampled_from(ZONES),
    cells=st.integers(-600, 600),
    minutes=st.integers(1, 360),
)
def test_where_nothing_is_said_the_curve_counts(near, zone, cells, minutes):
    """The cost is the burden, and there are no words."""
    starts_at = near + timedelta(minutes=5 * cells)
    period = Period(starts_at, starts_at + timedelta(minutes=minutes))
    assert WeeklyCosts(zone).of(period) == (burden(period, zone), "")


@given(week=weeks(), cells=st.integers(0, 7 * 288), minutes=st.sampled_from((25, 50)))
def test_a_minor_s_cost_is_never_below_the_curve_nor_below_the_words(week, cells, minutes):
    """The greater of both counts."""
    starts_at = datetime(2027, 3, 1, tzinfo=UTC) + timedelta(minutes=5 * cells)
    period = Period(starts_at, starts_at + timedelta(minutes=minutes))
    child = WeeklyCosts("Africa/Abidjan", date(2034, 6, 1), week).of(period).cost
    by_words = WeeklyCosts("Africa/Abidjan", None, replace(week, is_presumed=False)).of(period).cost
    assert child >= max(burden(period, "Africa/Abidjan"), by_words)


def test_an_adult_s_words_replace_the_curve() -> None:
    """Monday 1 March 2027: gladly at 23:00, which the curve counts 20; never at noon."""
    week = said((0, 22, 24, Wish.GLADLY), (0, 12, 13, Wish.NEVER), (0, 9, 10, Wish.LAST))
    assert cost("2027-03-01T23:00", week) == 0
    assert cost("2027-03-01T12:00", week) == NEVER
    assert cost("2027-03-01T11:45", week) == NEVER
    assert cost("2027-03-01T09:30", week) == HARD
    assert cost("2027-03-01T14:00", said((0, 14, 15, Wish.POSSIBLE))) == 1
    assert cost("2027-03-02T23:00", week) == 20


@pytest.mark.parametrize(
    ("adult_on", "at", "costs"),
    [
        (date(2036, 1, 1), "2027-03-01T19:05", 8),  # 9 years old: bedtime 19:30
        (date(2036, 1, 1), "2027-03-01T19:00", 0),
        (date(2034, 1, 1), "2027-03-01T19:30", 0),  # 11 years old: bedtime 20:30
        (date(2034, 1, 1), "2027-03-01T20:05", 8),
        (date(2030, 1, 1), "2027-03-01T20:30", 1),  # 15 years old: bedtime 21:00
        (date(2035, 3, 1), "2027-03-01T19:30", 0),  # 10 on this very day
        (date(2035, 3, 2), "2027-03-01T19:30", 8),
        (date(2041, 1, 1), "2027-03-01T10:00", 0),  # 4 years old: no school yet
        (date(2034, 1, 1), "2027-03-01T10:00", 8),
        (date(2034, 1, 1), "2027-03-01T15:15", 8),
        (date(2034, 1, 1), "2027-03-01T15:30", 0),
        (date(2034, 1, 1), "2027-03-06T10:00", 0),  # a Saturday
        (date(2034, 1, 1), "2027-02-17T10:00", 0),  # in the break
        (date(2034, 1, 1), "2027-04-12T10:00", 0),  # after the term
        (date(2027, 3, 1), "2027-03-01T10:00", 0),  # of age today
        (None, "2027-03-01T10:00", 0),
    ],
)
def test_school_and_bedtime_are_presumed_of_a_minor(
    adult_on: date | None, at: str, costs: int
) -> None:
    """Source: common practice."""
    assert cost(at, USUAL, adult_on) == costs


def test_school_that_a_family_confirms_is_never_in_term_only() -> None:
    """Not in the break, and for an adult who is still at school as well."""
    week = SaidHours(school=(480, 930), terms=(TERM,))
    assert cost("2027-03-01T10:00", week, date(2034, 1, 1)) == NEVER
    assert cost("2027-02-17T10:00", week, date(2034, 1, 1)) == 0
    assert cost("2027-03-01T10:00", week) == NEVER  # still at school at 18


def test_the_words_say_what_counted_and_nothing_where_the_curve_did() -> None:
    """School, usual school, bedtime and each mark have a sentence."""
    costs = WeeklyCosts("Africa/Abidjan", date(2034, 1, 1), replace(USUAL, school=(480, 540)))
    told = [costs.of(hour(f"2027-03-01T{at}")).words for at in ("08:15", "10:00", "20:30", "16:00")]
    assert told == ["School hours.", "Usual school hours.", "After a usual bedtime.", ""]
    marked = WeeklyCosts("Africa/Abidjan", None, said((0, 9, 10, Wish.LAST)))
    assert marked.of(hour("2027-03-01T09:00")).words == "An hour marked “only if nothing else”."


def test_a_repeated_hour_costs_the_same_twice_and_a_jumped_one_nothing_of_its_own() -> None:
    """New York, 7 November and 14 March 2027 (tz data 2026f)."""
    zone = ZoneInfo("America/New_York")
    week = said((6, 1, 2, Wish.GLADLY), (6, 2, 3, Wish.NEVER))
    costs = WeeklyCosts("America/New_York", None, week)
    for fold in (0, 1):
        starts_at = datetime(2027, 11, 7, 1, 0, tzinfo=zone, fold=fold).astimezone(UTC)
        assert costs.of(Period(starts_at, starts_at + timedelta(minutes=55))).cost == 0
    across = datetime(2027, 3, 14, 1, 30, tzinfo=zone).astimezone(UTC)
    assert costs.of(Period(across, across + timedelta(minutes=45))).cost == 20  # 01:30, then 03:00


def test_the_stretches_of_a_day_cover_it_once() -> None:
    """From midnight to midnight, each beginning where the one before ends."""
    day = WeeklyCosts("Africa/Abidjan", None, NOTHING_SAID).of_day(date(2027, 3, 1))
    told = [(opens, closes, found.cost) for opens, closes, found in stretches_of(day)]
    assert told[0] == (0, 360, 20)
    assert told[4] == (540, 1200, 0)
    assert (told[-1][1], [row[0] for row in told[1:]]) == (1440, [row[1] for row in told[:-1]])
