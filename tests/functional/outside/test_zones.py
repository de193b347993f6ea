"""VTIMEZONE as ical.js reads it, against zoneinfo."""

import itertools
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from icalendar import Calendar

from bookings.calendars.zones import vtimezone
from tests.functional.outside.reader import Ask

FIRST = datetime(2025, 6, 1, tzinfo=UTC)
STEP = timedelta(hours=5, minutes=15, seconds=7)
INSTANTS = [FIRST + number * STEP for number in range(5000)]
# Zones that change by an hour, half an hour or two, at midnight, the other way round, for the last
# time, in name alone, or not at all.
NAMES = [
    *(
        "Europe/London",
        "Europe/Dublin",
        "Europe/Berlin",
        "Europe/Chisinau",
        "America/Nuuk",
        "America/Scoresbysund",
        "Antarctica/Troll",
    ),
    *(
        "America/New_York",
        "America/Vancouver",
        "America/Winnipeg",
        "America/Havana",
        "America/Santiago",
        "America/St_Johns",
    ),
    *(
        "Africa/Cairo",
        "Africa/Casablanca",
        "Asia/Gaza",
        "Asia/Kathmandu",
        "Australia/Lord_Howe",
        "Australia/Sydney",
        "Pacific/Chatham",
    ),
]


@pytest.mark.node
@pytest.mark.parametrize("name", NAMES)
def test_the_zone_in_a_file_is_the_zone(ical_js: Ask, name: str) -> None:
    """5,000 wall times over three years, and every minute on both sides of each change, are the
    instants that zoneinfo has.

    Left out are wall times that come twice: of those readers disagree, and meetings there are
    written in UTC.
    """
    zone = ZoneInfo(name)
    around = [
        before + minutes * timedelta(minutes=1)
        for before, after in itertools.pairwise(INSTANTS)
        if before.astimezone(zone).utcoffset() != after.astimezone(zone).utcoffset()
        for minutes in range(-60, int((after - before).total_seconds() // 60) + 60)
    ]
    calendar = Calendar()
    calendar.add_component(
        vtimezone(name, INSTANTS[0] - timedelta(days=1), INSTANTS[-1] + timedelta(days=1))
    )
    pairs = [(instant, instant.astimezone(zone)) for instant in (*INSTANTS, *around)]
    once = [
        (instant, wall)
        for instant, wall in pairs
        if wall.utcoffset() == wall.replace(fold=1 - wall.fold).utcoffset()
    ]
    assert len(once) > 0.99 * len(INSTANTS)
    walls = [list(wall.timetuple()[:6]) for _, wall in once]
    read = ical_js({"calendar": calendar.to_ical().decode(), "walls": walls})
    wrong = [
        (instant, seconds)
        for (instant, _), seconds in zip(once, read, strict=True)
        if instant.timestamp() != seconds
    ]
    assert not wrong, (len(wrong), wrong[:5])
