"""Terms: their dates by RFC 5545, and how an hour of one clock wanders on another."""

from datetime import UTC, date, datetime, timedelta

import pytest
from dateutil.rrule import rrulestr
from hypothesis import given
from hypothesis import strategies as st

from bookings.domain.errors import Refused
from bookings.domain.instants import resolve
from bookings.domain.terms import TermDates, shift_runs, shifts, term_dates

# RFC 5545 section 3.8.5.3: "Weekly for 10 occurrences" and "Weekly until December 24, 1997", both
# from Tuesday 2 September 1997.
WEEKLY_TEN = ["9-2", "9-9", "9-16", "9-23", "9-30", "10-7", "10-14", "10-21", "10-28", "11-4"]
WEEKLY_UNTIL = [*WEEKLY_TEN, "11-11", "11-18", "11-25", "12-2", "12-9", "12-16", "12-23"]
# The same section: "Weekly on Tuesday and Thursday for five weeks".
TUESDAYS_AND_THURSDAYS = [
    "9-2",
    "9-4",
    "9-9",
    "9-11",
    "9-16",
    "9-18",
    "9-23",
    "9-25",
    "9-30",
    "10-2",
]


def in_1997(*texts: str) -> list[date]:
    return [date(1997, *map(int, text.split("-"))) for text in texts]


def test_the_weekly_examples_of_rfc_5545():
    """A term that ends with the tenth week, and one that ends on 24 December, have the dates that
    the RFC prints.
    """
    assert list(term_dates(TermDates(date(1997, 9, 2), date(1997, 11, 4)), 1)) == in_1997(
        *WEEKLY_TEN
    )
    assert list(term_dates(TermDates(date(1997, 9, 2), date(1997, 12, 24)), 1)) == in_1997(
        *WEEKLY_UNTIL
    )
    five_weeks = TermDates(date(1997, 9, 2), date(1997, 10, 6))
    assert sorted(on for weekday in (1, 3) for on in term_dates(five_weeks, weekday)) == in_1997(
        *TUESDAYS_AND_THURSDAYS
    )


def test_nine_in_new_york_through_autumn_1997():
    """09:00 in New York is 13:00Z to 21 October and 14:00Z from 28 October 1997 (the RFC's EDT and
    EST).
    """
    dates = term_dates(TermDates(date(1997, 9, 2), date(1997, 11, 4)), 1)
    starts = [
        resolve(datetime(on.year, on.month, on.day, 9), 0, "America/New_York") for on in dates
    ]
    assert [start.hour for start in starts] == [13] * 8 + [14] * 2
    assert [(shift.on, shift.before, shift.after) for shift in shifts(starts, "UTC")] == [
        (date(1997, 10, 28), "13:00", "14:00")
    ]


@given(
    st.dates(date(1990, 1, 1), date(2040, 1, 1)), st.integers(0, 365), st.integers(0, 6), st.data()
)
def test_dates_equal_a_weekly_rule_with_exceptions(first_on, days, weekday, data):
    """dateutil's RRULE with EXDATE for each day of the breaks gives the same dates."""
    last_on = first_on + timedelta(days=days)
    begins = data.draw(st.lists(st.integers(0, days), max_size=3))
    breaks = tuple(
        (first_on + timedelta(days=k), first_on + timedelta(days=data.draw(st.integers(k, days))))
        for k in begins
    )
    rule = rrulestr(
        f"FREQ=WEEKLY;BYDAY={('MO', 'TU', 'WE', 'TH', 'FR', 'SA', 'SU')[weekday]}",
        dtstart=datetime(*first_on.timetuple()[:3]),
    )
    every = rule.between(
        datetime(*first_on.timetuple()[:3]), datetime(*last_on.timetuple()[:3]), inc=True
    )
    kept = [
        at.date() for at in every if not any(first <= at.date() <= last for first, last in breaks)
    ]
    assert list(term_dates(TermDates(first_on, last_on, breaks), weekday)) == kept


@pytest.mark.parametrize(
    ("code", "first_on", "last_on", "breaks"),
    [
        ("end-before-start", date(2027, 4, 9), date(2027, 1, 11), ()),
        ("invalid", date(2027, 1, 1), date(2028, 1, 2), ()),
        (
            "end-before-start",
            date(2027, 1, 11),
            date(2027, 4, 9),
            ((date(2027, 2, 21), date(2027, 2, 15)),),
        ),
        ("invalid", date(2027, 1, 11), date(2027, 4, 9), ((date(2027, 1, 10), date(2027, 1, 12)),)),
        ("invalid", date(2027, 1, 11), date(2027, 4, 9), ((date(2027, 4, 5), date(2027, 4, 10)),)),
    ],
)
def test_a_term_that_makes_no_sense_is_refused(code, first_on, last_on, breaks):
    """Backwards, longer than 366 days, a backward break, a break that reaches outside."""
    with pytest.raises(Refused) as refusal:
        TermDates(first_on, last_on, breaks)
    assert refusal.value.code == code


def test_a_term_of_one_day_and_one_of_a_leap_year():
    """The shortest and the longest term there can be."""
    assert term_dates(TermDates(date(2027, 1, 12), date(2027, 1, 12)), 1) == (date(2027, 1, 12),)
    assert term_dates(TermDates(date(2027, 1, 12), date(2027, 1, 12)), 2) == ()
    assert len(term_dates(TermDates(date(2028, 1, 1), date(2028, 12, 31)), 5)) == 53


def weekly_at_six(first_on: date, last_on: date, time_zone: str) -> list[datetime]:
    """18:00 of that clock on every date from first to last."""
    days = (first_on + timedelta(days=k) for k in range((last_on - first_on).days + 1))
    return [resolve(datetime(on.year, on.month, on.day, 18), 0, time_zone) for on in days]


def test_london_and_new_york_are_four_hours_apart_on_exactly_these_dates():
    """18:00 in London is 13:00 in New York, but 14:00 on these dates of 2026 and 2027 (zdump of
    tzdata 2026f).
    """
    starts = weekly_at_six(date(2026, 1, 1), date(2027, 12, 31), "Europe/London")
    runs = shift_runs(starts, "America/New_York")
    assert [(run.shifts[0].on, run.last_on) for run in runs] == [
        (date(2026, 3, 8), date(2026, 3, 28)),
        (date(2026, 10, 25), date(2026, 10, 31)),
        (date(2027, 3, 14), date(2027, 3, 27)),
        (date(2027, 10, 31), date(2027, 11, 6)),
    ]
    assert {(run.usual, run.shifts[0].after, run.back.after) for run in runs} == {
        ("13:00", "14:00", "13:00")
    }


def test_sydney_and_london_move_twice_in_one_run():
    """11 hours apart, 10 from 28 March, 9 from 4 April, 10 from 3 October, 11 from 31 October 2027
    (zdump): one run of four shifts.
    """
    starts = weekly_at_six(date(2027, 3, 1), date(2027, 12, 1), "Australia/Sydney")
    (run,) = shift_runs(starts, "Europe/London")
    assert run.usual == "07:00"
    assert [(shift.on, shift.after) for shift in run.shifts] == [
        (date(2027, 3, 28), "08:00"),
        (date(2027, 4, 4), "09:00"),
        (date(2027, 10, 3), "08:00"),
    ]
    assert run.back.on == date(2027, 10, 31)


def test_a_shift_that_stays_is_a_run_to_the_end():
    """Kathmandu does not change its clocks: from 30 March 2027 a Dublin lesson stays an hour
    earlier.
    """
    dates = term_dates(TermDates(date(2027, 1, 11), date(2027, 4, 9)), 1)
    starts = [
        resolve(datetime(on.year, on.month, on.day, 16, 30), 0, "Europe/Dublin") for on in dates
    ]
    (run,) = shift_runs(starts, "Asia/Kathmandu")
    assert (run.usual, run.shifts[0].on, run.shifts[0].after, run.last_on, run.back) == (
        "22:15",
        date(2027, 3, 30),
        "21:15",
        date(2027, 4, 6),
        None,
    )


def test_no_meetings_have_no_shifts():
    """Nothing to say of nothing."""
    assert shift_runs([], "UTC") == shifts([datetime(2027, 1, 1, tzinfo=UTC)], "UTC") == ()
