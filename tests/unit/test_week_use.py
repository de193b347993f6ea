"""How an instructor's week is used: published, booked, kept, lost, free."""

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from bookings.domain.hours import Away, TeachingTime, WeeklyWindow
from bookings.domain.parties import InstructorTime
from bookings.domain.timeline import Period
from bookings.domain.week_use import WeekUse, fullest, weeks_used
from bookings.pages.week_bars import week_bars
from tests.cast import at

MONDAY = date(2027, 3, 1)
DUBLIN = "Europe/Dublin"


def week(*lessons, opens=15 * 60, closes=18 * 60, away=(), busy=(), shortest=30, on=MONDAY):
    """The use of a week with hours on Monday in Dublin; lessons are (start, minutes), each with
    five minutes of changeover.
    """
    taught = [Period(at(start), at(start) + timedelta(minutes=long)) for start, long in lessons]
    held = [Period(one.starts_at, one.ends_at + timedelta(minutes=5)) for one in taught]
    instructor = InstructorTime(
        id=1,
        time_zone=DUBLIN,
        teaching=TeachingTime(weekly=(WeeklyWindow(0, opens, closes, DUBLIN),), away=away),
        meetings=tuple(held),
        taught=tuple(taught),
        busy=busy,
    )
    (found,) = weeks_used(instructor, on, 1, shortest_minutes=shortest)
    return found


def test_an_empty_week_is_free():
    """Three hours are published, and nothing is lost."""
    assert week() == WeekUse(MONDAY, 180, 0, 0, 0, 0, 180)


def test_a_gap_too_short_for_a_lesson_is_lost():
    """15:00-15:30, then 15:55-16:25: the 20 minutes between are lost, and 90 are free."""
    found = week(("2027-03-01T15:00Z", 30), ("2027-03-01T15:55Z", 30))
    assert (found.booked, found.kept, found.lost, found.free) == (60, 10, 20, 90)


def test_a_gap_of_just_one_lesson_is_free():
    """A changeover is not asked after it: the next meeting begins then."""
    found = week(("2027-03-01T15:00Z", 30), ("2027-03-01T16:05Z", 30))
    assert (found.lost, found.free) == (0, 110)


def test_busy_time_is_kept_and_days_away_are_not_published():
    """What another calendar takes is neither free nor lost."""
    busy = (Period(at("2027-03-01T15:00Z"), at("2027-03-01T16:00Z")),)
    assert (week(busy=busy).kept, week(busy=busy).free) == (60, 120)
    assert week(away=(Away(MONDAY, MONDAY, DUBLIN),)).published == 0


def test_a_lesson_outside_the_hours_is_told_apart():
    """Ten minutes of it lie in the hours."""
    found = week(("2027-03-01T14:40Z", 30))
    assert (found.booked, found.booked_outside) == (30, 20)


def test_a_week_of_a_clock_change_is_as_long_as_its_hours():
    """In the night of 28 March 2027 Dublin's clocks go forward over an hour of these hours."""
    sunday = TeachingTime(weekly=(WeeklyWindow(6, 0, 180, DUBLIN),))
    instructor = InstructorTime(id=1, time_zone=DUBLIN, teaching=sunday)
    found = weeks_used(instructor, date(2027, 3, 22), 2, shortest_minutes=30)
    assert [one.published for one in found] == [120, 180]


STARTS = st.sets(st.integers(0, 40), max_size=5)


@given(STARTS)
def test_the_parts_of_a_week_add_up_to_what_is_published(starts):
    """Whatever is booked, on or outside the hours."""
    begin = at("2027-03-01T14:00Z")
    lessons = [((begin + timedelta(minutes=5 * n)).isoformat(), 25) for n in starts]
    found = week(*lessons)
    inside = found.booked - found.booked_outside
    assert inside + found.kept + found.lost + found.free == found.published == 180
    (bar,) = week_bars([found])
    widths = sum(float(part.width.rstrip("%")) for part in bar.parts)
    assert abs(widths - 100) < 0.1


def test_the_fullest_week_is_the_one_with_the_least_free():
    """Weeks without hours are left out, and the first of two equal ones is named."""
    weeks = [
        WeekUse(MONDAY + timedelta(weeks=n), published, 0, 0, 0, 0, free)
        for n, (published, free) in enumerate([(0, 0), (180, 60), (180, 30), (180, 30)])
    ]
    assert fullest(weeks) == weeks[2]
    assert fullest(weeks[:1]) is None
    assert week_bars(weeks[:1])[0].parts == []
