"""Terms for the tests of weekly places: one that is known, and any that Hypothesis thinks of."""

from datetime import UTC, date, datetime, timedelta

from hypothesis import strategies as st

from bookings.domain.hours import TeachingTime, WeeklyWindow
from bookings.domain.slots import InstructorTime, OfferingRules, StudentTime
from bookings.domain.terms import TermDates
from bookings.domain.vocabulary import Grid
from bookings.domain.weekly import WeeklyTime
from tests.unit.times import situations

NOW = datetime(2027, 1, 4, 9, tzinfo=UTC)
TERM = TermDates(date(2027, 1, 11), date(2027, 4, 9), ((date(2027, 2, 15), date(2027, 2, 21)),))
LESSON = OfferingRules(45, 10, Grid.CLOCK, 30)
TUESDAY = 1
ILSE = InstructorTime(
    1, "Europe/Dublin", TeachingTime((WeeklyWindow(TUESDAY, 930, 1230, "Europe/Dublin"),))
)
MARLO = StudentTime(1, "America/New_York")
HALF_PAST_FOUR = WeeklyTime(TUESDAY, 16 * 60 + 30)


@st.composite
def terms(draw):
    """(term, offering, instructor, student, policy, now): up to ten days around a day on which
    clocks may change.
    """
    offering, instructor, student, policy, now, since, _ = draw(situations())
    first_on = since.date() - timedelta(days=draw(st.integers(0, 5)))
    last_on = first_on + timedelta(days=draw(st.integers(0, 9)))
    days = (last_on - first_on).days
    begins = draw(st.lists(st.integers(0, days), max_size=2))
    breaks = tuple(
        (first_on + timedelta(days=k), first_on + timedelta(days=draw(st.integers(k, days))))
        for k in begins
    )
    return TermDates(first_on, last_on, breaks), offering, instructor, student, policy, now
