"""Which zone a foreign calendar means: known, known by another name, defined by the file itself, or
nobody's.
"""

from datetime import UTC, datetime, timedelta

import pytest

from bookings.calendars.busy import Busy, busy
from bookings.domain.errors import Refused
from bookings.domain.timeline import CELL, EPOCH
from tests.unit.calendars_samples import calendar_of, entry, zone_of

NOW = datetime(2027, 3, 1, 9, tzinfo=UTC)


def worked_out(*parts: str) -> Busy:
    return busy(calendar_of(*parts), "Asia/Kathmandu", NOW, NOW + timedelta(days=366))


def starts(found: Busy) -> list[str]:
    return [f"{EPOCH + first * CELL:%m-%dT%H:%M}" for first, _ in found.cells]


@pytest.mark.parametrize(
    ("tzid", "expected"),
    [
        ("Europe/Dublin", "03-02T10:00"),
        ('"Europe/Dublin"', "03-02T10:00"),
        ("/rowanmere.example/20260101_1/America/New_York", "03-02T15:00"),
        ("W. Europe Standard Time", "03-02T09:00"),
        ("America/Montreal", "03-02T15:00"),
    ],
)
def test_a_zone_that_is_known_is_read_by_the_pinned_rules(tzid: str, expected: str) -> None:
    """By its IANA name, an old link name, the end of a globally unique TZID (RFC 5545 3.2.19), or a
    name of the CLDR table.
    """
    found = worked_out(entry(f"DTSTART;TZID={tzid}:20270302T100000", "DURATION:PT1H"))
    assert (starts(found), found.unknown_zones) == ([expected], 0)


def test_the_files_own_rules_do_not_win_over_known_ones() -> None:
    """A VTIMEZONE called Europe/Dublin with other offsets changes nothing: rules in files are often
    old.
    """
    found = worked_out(
        zone_of("Europe/Dublin"),
        entry("DTSTART;TZID=Europe/Dublin:20270302T100000", "DURATION:PT1H"),
    )
    assert starts(found) == ["03-02T10:00"]


def test_a_zone_that_only_the_file_knows_is_read_by_it() -> None:
    """Its summer and winter, for single and repeated entries, wherever in the file it stands."""
    single = entry("DTSTART;TZID=Our House:20270702T100000", "DTEND;TZID=Our House:20270702T110000")
    repeated = entry(
        "DTSTART;TZID=Our House:20270327T103000", "DURATION:PT1H", "RRULE:FREQ=DAILY;COUNT=2"
    )
    found = worked_out(single, repeated, zone_of("Our House"))
    assert starts(found) == ["03-27T08:00", "03-28T07:00", "07-02T06:30"]
    assert found.unknown_zones == 0


def test_a_zone_that_nobody_knows_is_the_owners_and_is_counted() -> None:
    """Twice the same name counts once; the path of a file is a name that nobody knows."""
    found = worked_out(
        entry(
            "DTSTART;TZID=Mars/Olympus:20270302T100000", "DTEND;TZID=Mars/Olympus:20270302T110000"
        ),
        entry(
            "DTSTART;TZID=Mars/Olympus:20270303T100000", "DURATION:PT1H", "RRULE:FREQ=DAILY;COUNT=2"
        ),
        entry("DTSTART;TZID=../../etc/passwd:20270306T100000", "DURATION:PT1H"),
    )
    assert starts(found) == ["03-02T04:15", "03-03T04:15", "03-04T04:15", "03-06T04:15"]
    assert found.unknown_zones == 2


def test_a_utc_time_is_utc_whatever_its_tzid_says() -> None:
    """TZID MUST NOT stand beside a UTC value (RFC 5545 3.2.19); where it does, Z counts."""
    found = worked_out(entry("DTSTART;TZID=America/New_York:20270302T100000Z", "DURATION:PT1H"))
    assert starts(found) == ["03-02T10:00"]


@pytest.mark.parametrize(
    "rule", ["FREQ=SECONDLY", "FREQ=DAILY", "FREQ=YEARLY;BYHOUR=1,2,3", "FREQ=YEARLY;BYSECOND=0,1"]
)
def test_a_zone_cannot_be_a_bomb(rule: str) -> None:
    """The rules of a zone repeat by year; a zone that is not used is not looked at."""
    bomb = zone_of("Our House", f"RRULE:{rule}")
    with pytest.raises(Refused, match="changes its clocks more often"):
        worked_out(bomb, entry("DTSTART;TZID=Our House:20270302T100000", "DURATION:PT1H"))
    assert worked_out(bomb, entry("DTSTART:20270302T100000Z", "DURATION:PT1H")).cells


def test_a_zone_with_more_changes_than_any_is_refused() -> None:
    """401 transitions one by one, and one with 401 dates."""
    onset = (
        "BEGIN:STANDARD\r\nDTSTART:20200101T000000\r\n{}TZOFFSETFROM:+0000\r\n"
        "TZOFFSETTO:+0100\r\nEND:STANDARD\r\n"
    )
    dates = "RDATE:" + ",".join(["20210101T000000"] * 401) + "\r\n"
    for inner in (onset.format("") * 401, onset.format(dates)):
        zone = f"BEGIN:VTIMEZONE\r\nTZID:Our House\r\n{inner}END:VTIMEZONE\r\n"
        with pytest.raises(Refused, match="more changes of clocks"):
            worked_out(zone, entry("DTSTART;TZID=Our House:20270302T100000", "DURATION:PT1H"))
