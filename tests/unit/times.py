"""What Hypothesis draws for the tests of time: zones of every temper, and days around their clock
changes.
"""

from datetime import UTC, date, datetime, timedelta

from hypothesis import strategies as st

from bookings.domain.hours import Away, DatedWindow, TeachingTime, WeeklyWindow
from bookings.domain.policy import Policy
from bookings.domain.slots import InstructorTime, OfferingRules, StudentTime
from bookings.domain.timeline import Period
from bookings.domain.vocabulary import Grid
from tests import profiles

SOLVER_EXAMPLES = {"mutants": 20, "quick": 50, "ci": 1000, "long": 10_000}[profiles.NAME]
"""How many situations the solver is walked through minute by minute: more than the profile gives to
other tests.
"""

ZONES = (
    "America/New_York",
    "America/Santiago",
    "America/St_Johns",
    "Africa/Cairo",
    "Africa/Casablanca",
    "Antarctica/Troll",
    "Asia/Kathmandu",
    "Australia/Lord_Howe",
    "Europe/Dublin",
    "Pacific/Apia",
    "Pacific/Chatham",
)
# A day on which at least one of the zones changes its clock, and one on which none does.
DAYS = (
    date(2011, 12, 30),
    date(2026, 2, 15),
    date(2026, 3, 8),
    date(2026, 3, 22),
    date(2026, 3, 29),
    date(2026, 4, 5),
    date(2026, 4, 24),
    date(2026, 9, 6),
    date(2026, 9, 20),
    date(2026, 9, 27),
    date(2026, 10, 4),
    date(2026, 10, 25),
    date(2026, 10, 30),
    date(2026, 11, 1),
    date(2027, 2, 3),
    date(2027, 3, 14),
    date(2027, 3, 28),
    date(2027, 4, 4),
    date(2027, 10, 3),
    date(2027, 11, 7),
)

zones = st.sampled_from(ZONES)
days = st.sampled_from(DAYS)
cells_of_day = st.integers(0, 287).map(lambda cell: cell * 5)


def midnight(on: date) -> datetime:
    """00:00 UTC of the date."""
    return datetime(on.year, on.month, on.day, tzinfo=UTC)


HOURS_AWAY = st.sampled_from([(0, 1440), (565, 1083), (75, 1440), (0, 155)])
"""From which minute of the first day until which of the last: whole days, or hours."""


@st.composite
def openings(draw):
    """(opens, closes): minutes of the day on the grid, often touching midnight or the small hours
    in which clocks change.
    """
    opens = draw(st.sampled_from((0, 60, 90, 120, 150)) | cells_of_day)
    return opens, draw(
        st.sampled_from((1440,)) | st.integers(opens // 5 + 1, 288).map(lambda cell: cell * 5)
    )


@st.composite
def teaching_times(draw, near: date, zone: str, least: int = 0):
    """Weekly and extra windows and days away around a date; mostly in one zone, sometimes in a
    second, overlaps allowed.
    """
    its_zones = st.sampled_from((zone, zone, zone, draw(zones)))
    close = st.integers(-2, 3).map(lambda k: near + timedelta(days=k))
    weekdays = st.integers(-1, 2).map(lambda k: (near.weekday() + k) % 7)
    weekly = [
        WeeklyWindow(draw(weekdays), opens, closes, draw(its_zones))
        for opens, closes in draw(st.lists(openings(), min_size=least, max_size=6))
    ]
    extra = [
        DatedWindow(draw(close), opens, closes, draw(its_zones))
        for opens, closes in draw(st.lists(openings(), max_size=2))
    ]
    away = [
        Away(on, on + timedelta(days=draw(st.integers(0, 1))), draw(its_zones), *draw(HOURS_AWAY))
        for on in draw(st.lists(close, max_size=1))
    ]
    return TeachingTime(tuple(weekly), tuple(extra), tuple(away))


@st.composite
def periods_near(draw, near: date, most: int = 4):
    """Periods of a few hours around a date, to the minute: off the grid of cells on purpose."""
    starts = draw(st.lists(st.integers(-1440, 3 * 1440), max_size=most))
    begins = [midnight(near) + timedelta(minutes=minute) for minute in starts]
    return tuple(Period(at, at + timedelta(minutes=draw(st.integers(1, 240)))) for at in begins)


@st.composite
def days_taught(draw, near: date):
    """Meetings of the week around a date, to the minute, some back to back and some over midnight:
    (taught, held with changeover).
    """
    starts = draw(
        st.lists(st.integers(-300, 3 * 1440) | st.integers(-8 * 1440, 9 * 1440), max_size=8)
    )
    taught, held = [], []
    for begins in (midnight(near) + timedelta(minutes=minute) for minute in starts):
        for _ in range(draw(st.integers(1, 3))):
            ends = begins + timedelta(minutes=draw(st.sampled_from((5, 25, 30, 45, 50, 61))))
            taught.append(Period(begins, ends))
            begins = ends + timedelta(minutes=draw(st.sampled_from((0, 5, 10, 14, 15, 20))))
            held.append(Period(taught[-1].starts_at, begins))
    return tuple(taught), tuple(held)


@st.composite
def policies(draw):
    """Rules that bite: lead times and horizons of days, and limits of load down to less than one
    meeting.
    """
    return Policy(
        lead_time_minutes=draw(st.sampled_from((0, 60, 720))),
        horizon_days=draw(st.integers(1, 4)),
        run_minutes=draw(st.sampled_from((120, 120, 90, 55, 20))),
        run_gap_minutes=draw(st.sampled_from((15, 15, 0, 5, 40))),
        day_minutes=draw(st.sampled_from((360, 360, 150, 60, 20))),
        week_minutes=draw(st.sampled_from((1500, 1500, 300, 100))),
        night_rest_minutes=draw(st.sampled_from((660, 660, 0, 240, 1500))),
    )


@st.composite
def situations(draw):
    """(offering, instructor, student, policy, now, since, until): two days in which every rule can
    bite.
    """
    near = draw(days)
    zone, lengths = draw(zones), st.sampled_from((5, 15, 25, 30, 35, 50, 60))
    offering = OfferingRules(
        draw(lengths), draw(st.sampled_from((0, 5, 10))), draw(st.sampled_from(Grid)), draw(lengths)
    )
    taught, held = draw(days_taught(near))
    waived = draw(st.lists(cells_of_day, max_size=4))
    instructor = InstructorTime(
        draw(st.integers(1, 3)),
        zone,
        draw(teaching_times(near, zone, least=2)),
        (*draw(periods_near(near, most=2)), *held),
        draw(periods_near(near, most=2)),
        taught,
        frozenset(midnight(near) + timedelta(minutes=minute) for minute in waived),
    )
    adult_on = draw(st.none() | st.integers(-1, 4).map(lambda k: near + timedelta(days=k)))
    student = StudentTime(
        7, draw(zones), adult_on, draw(periods_near(near)), draw(periods_near(near))
    )
    now = midnight(near) + timedelta(
        minutes=draw(st.integers(-3000, 600)), seconds=draw(st.sampled_from((0, 0, 17)))
    )
    since = midnight(near) + timedelta(minutes=draw(st.integers(-300, 300)))
    return (
        offering,
        instructor,
        student,
        draw(policies()),
        now,
        since,
        since + timedelta(minutes=draw(st.sampled_from((7, 1440, 2880)))),
    )
