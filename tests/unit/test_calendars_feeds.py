"""The body of a feed, by RFC 5545, RFC 7986 and what subscribers are known to trip over."""

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar

from bookings.calendars.feeds import feed
from tests.unit.calendars_samples import (
    CALLED_OFF,
    CONSULTATION,
    GROUP,
    REPEATED_HOUR,
    WINDOW,
    events,
)

MEETINGS = [REPEATED_HOUR, CALLED_OFF, GROUP, CONSULTATION]


def test_calendar_feed_names_itself_once():
    """One NAME, one X-WR-CALNAME, one X-WR-TIMEZONE, REFRESH-INTERVAL with the VALUE that RFC 7986
    section 5.7 demands.
    """
    lines = feed("Lessons, mine", "America/New_York", MEETINGS, *WINDOW).decode().split("\r\n")
    for expected in (
        "NAME:Lessons\\, mine",
        "X-WR-CALNAME:Lessons\\, mine",
        "X-WR-TIMEZONE:America/New_York",
        "REFRESH-INTERVAL;VALUE=DURATION:PT1H",
        "X-PUBLISHED-TTL:PT1H",
    ):
        assert lines.count(expected) == 1


def test_calendar_feed_leaves_out_what_belongs_to_mail():
    """No METHOD, no attendee or organizer, no UID but those of the meetings (RFC 5545 section
    3.8.4.1; subscribers merge on the UID).
    """
    calendar = Calendar.from_ical(feed("Lessons", "America/New_York", MEETINGS, *WINDOW))
    assert not {"METHOD", "UID"} & set(calendar)
    assert not any({"ATTENDEE", "ORGANIZER"} & set(vevent) for vevent in calendar.events)


def test_calendar_feed_defines_every_zone_once():
    """RFC 5545 section 3.6.5: one VTIMEZONE for each TZID used, and the reader's own."""
    calendar = Calendar.from_ical(feed("Lessons", "Europe/London", MEETINGS, *WINDOW))
    assert [str(zone["TZID"]) for zone in calendar.timezones] == [
        "Asia/Kathmandu",
        "Australia/Lord_Howe",
        "Europe/Dublin",
        "Europe/London",
    ]
    assert not calendar.get_missing_tzids()


def test_calendar_feed_without_meetings_is_valid():
    """RFC 5545 section 3.6 wants one component at least: an empty feed holds the reader's
    VTIMEZONE.
    """
    calendar = Calendar.from_ical(feed("Lessons", "America/New_York", [], *WINDOW))
    assert [component.name for component in calendar.subcomponents] == ["VTIMEZONE"]


def test_calendar_feed_zones_reach_meetings_outside_the_window():
    """A meeting before the window still has the rules of its own day."""
    first = datetime(2029, 7, 1, tzinfo=UTC)
    (zone,) = Calendar.from_ical(
        feed("Lessons", "Europe/Dublin", [GROUP], first, first + timedelta(days=30))
    ).timezones
    assert min(part["DTSTART"].dt for part in zone.subcomponents) <= GROUP.starts_at.replace(
        tzinfo=None
    )


@given(
    st.lists(events(), max_size=5, unique_by=lambda event: event.uid),
    st.randoms(use_true_random=False),
)
def test_calendar_feed_has_the_same_bytes_in_any_order(meetings, shuffler):
    """The same meetings give the same bytes, whatever order they came in."""
    written = feed("Lessons", "Asia/Kathmandu", meetings, *WINDOW)
    shuffler.shuffle(meetings)
    assert feed("Lessons", "Asia/Kathmandu", iter(meetings), *WINDOW) == written
