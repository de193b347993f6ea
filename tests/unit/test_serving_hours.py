"""Where an extra hour would serve most."""

from datetime import date

from bookings.domain.hours import TeachingTime, WeeklyWindow
from bookings.domain.parties import InstructorTime
from bookings.domain.serving_hours import serving_hours
from bookings.domain.student_hours import SaidHours, WishedWindow
from bookings.domain.timeline import Period
from bookings.domain.vocabulary import Wish
from bookings.domain.weekly_costs import WeeklyCosts
from tests.cast import at

MONDAY, NOW, DUBLIN = date(2027, 3, 8), at("2027-03-01T09:00Z"), "Europe/Dublin"


def ilse(**more):
    """Ilse publishes Monday 16:00 to 18:00 in Dublin."""
    weekly = (WeeklyWindow(0, 16 * 60, 18 * 60, DUBLIN),)
    return InstructorTime(id=1, time_zone=DUBLIN, teaching=TeachingTime(weekly=weekly), **more)


def comes(*windows, time_zone=DUBLIN):
    """A student who comes gladly in these windows (weekday, opens, closes), and at no other time
    of those days.
    """
    said = []
    for weekday in range(7):
        gladly = [(a * 60, b * 60) for day, a, b in windows if day == weekday]
        said += [WishedWindow(weekday, a, b, Wish.GLADLY) for a, b in gladly]
        edges = [0, *(edge for pair in gladly for edge in pair), 1440]
        said += [
            WishedWindow(weekday, a, b, Wish.NEVER)
            for a, b in zip(edges[::2], edges[1::2], strict=True)
            if a < b
        ]
    return WeeklyCosts(time_zone, None, SaidHours(tuple(said)))


def best(people, **more):
    found = serving_hours(ilse(**more), MONDAY, people, now=NOW)
    return [(hour.starts_at, hour.suits, hour.asked) for hour in found]


def test_the_hour_that_suits_most_is_first():
    """Two can come on Thursday at 17:00, one on Tuesday at 10:00."""
    people = [comes((3, 17, 18)), comes((3, 17, 18), (1, 10, 11))]
    assert best(people) == [(at("2027-03-11T17:00Z"), 2, 2), (at("2027-03-09T10:00Z"), 1, 2)]


def test_published_hours_and_taken_time_are_left_out():
    """On Monday at 16:00 students can book already; a meeting and a busy hour take the others."""
    people = [comes((0, 16, 18), (1, 10, 11), (2, 10, 11))]
    meeting = Period(at("2027-03-09T10:30Z"), at("2027-03-09T11:30Z"))
    busy = Period(at("2027-03-10T10:00Z"), at("2027-03-10T10:05Z"))
    assert best(people, meetings=(meeting,), busy=(busy,)) == []


def test_an_hour_beside_published_ones_comes_first_of_equal_ones():
    """15:00 on Monday lengthens the hours that are there."""
    people = [comes((0, 9, 10), (0, 15, 16), (2, 9, 10))]
    assert best(people)[0][0] == at("2027-03-08T15:00Z")


def test_hours_are_those_of_each_clock():
    """17:00 in New York is 22:00 in Dublin before 14 March: night for the instructor. 16:00 is
    not, and lies before it.
    """
    people = [comes((1, 16, 18), time_zone="America/New_York")]
    assert best(people) == [(at("2027-03-09T21:00Z"), 1, 1)]


def test_nobody_is_served_where_nobody_waits_or_in_hours_that_are_over():
    """And a student who can never come adds none."""
    assert best([]) == best([comes()]) == []
    found = serving_hours(ilse(), date(2027, 2, 22), [comes((1, 10, 11))], now=NOW)
    assert found == []


def test_a_student_who_said_nothing_has_the_usual_curve():
    """By day every hour costs nothing, and the one beside the published hours is first."""
    assert best([WeeklyCosts(DUBLIN)])[0] == (at("2027-03-08T15:00Z"), 1, 1)
