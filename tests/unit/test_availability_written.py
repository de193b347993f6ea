"""Hours that are written as availability (RFC 7953) and read again."""

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from bookings.calendars.availability import read_availability
from bookings.calendars.hours_file import hours_to_ical
from bookings.domain.availability import free_busy
from bookings.domain.hours import Away, DatedWindow, TeachingTime, WeeklyWindow, teachable
from bookings.domain.proposals import proposal
from bookings.domain.timeline import Horizon
from tests.unit.availability_files import STAMP
from tests.unit.times import HOURS_AWAY

ZONES = (
    "Europe/Dublin",
    "America/New_York",
    "Australia/Lord_Howe",
    "Asia/Kathmandu",
    "America/Santiago",
    "Africa/Cairo",
)


@st.composite
def published(draw):
    """Hours as an instructor may publish them: a week in one zone, extra hours and days away in the
    year ahead.
    """
    time_zone = draw(st.sampled_from(ZONES))
    minutes = st.integers(0, 287).map(lambda cell: cell * 5)
    weekly = []
    for weekday in draw(st.sets(st.integers(0, 6), max_size=5)):
        opens, closes = sorted(draw(st.lists(minutes, min_size=2, max_size=2, unique=True)))
        weekly.append(
            WeeklyWindow(weekday, opens, draw(st.sampled_from([closes, 1440])), time_zone)
        )
    days = st.integers(2, 350).map(lambda number: date(2026, 11, 2) + timedelta(days=number))
    extra = [DatedWindow(on, 600, 660, time_zone) for on in sorted(draw(st.sets(days, max_size=3)))]
    away = [
        Away(on, on + timedelta(days=draw(st.integers(0, 9))), time_zone, *draw(HOURS_AWAY))
        for on in sorted(draw(st.sets(days, max_size=2)))
    ]
    return TeachingTime(tuple(weekly), tuple(extra), tuple(away))


@given(teaching=published())
def test_hours_written_and_read_are_the_same_hours_for_a_year(teaching):
    """Every cell of a year, clock changes and midnight gaps included, by the file's own meaning and
    by the hours proposed from it. No proposal can say hours away, so it tells of them in words.
    """
    written = hours_to_ical("7", teaching, stamp=STAMP, name="Hours")
    assert written == hours_to_ical("7", teaching, stamp=STAMP, name="Hours")
    blocks = read_availability(written.decode())
    horizon = Horizon.spanning(STAMP + timedelta(days=1), STAMP + timedelta(days=364))
    meant = teachable(teaching, horizon)
    assert free_busy(blocks, horizon)["FREE"] == meant
    found = proposal(blocks, time_zone="UTC", now=STAMP)
    if not all(away.is_whole_days for away in teaching.away):
        return
    assert found.unexpressed == ()
    assert teachable(found.teaching(), horizon) == meant


def test_the_file_keeps_its_zone():
    """A weekly hour is written in its zone with a VTIMEZONE, lines end in CRLF and none is longer
    than 75 octets (RFC 5545 3.1).
    """
    teaching = TeachingTime(
        (WeeklyWindow(0, 930, 1440, "Europe/Dublin"),),
        (),
        (Away(date(2027, 1, 4), date(2027, 1, 8), "Europe/Dublin"),),
    )
    lines = hours_to_ical("7", teaching, stamp=STAMP, name="Hours").decode().split("\r\n")
    assert (
        "DTSTART;TZID=Europe/Dublin:20261102T153000" in lines
        and "DTEND;TZID=Europe/Dublin:20261103T000000" in lines
    )
    assert "RRULE:FREQ=WEEKLY;BYDAY=MO" in lines
    assert lines.count("TZID:Europe/Dublin") == lines.count("BEGIN:VTIMEZONE") == 1
    assert "DTEND;TZID=Europe/Dublin:20270109T000000" in lines and "PRIORITY:1" in lines
    assert all(len(line.encode()) <= 75 for line in lines)
