"""Foreign calendars as they are met: clocks that jump, one UID twice, small faults that a reader
forgives.
"""

import time
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from dateutil.rrule import rrulestr

from bookings.calendars.busy import Busy, busy
from bookings.domain.timeline import CELL, EPOCH
from tests.unit.calendars_samples import calendar_of, entry, zone_of

NOW = datetime(2027, 3, 1, 9, tzinfo=UTC)
NEW_YORK = "TZID=America/New_York"


def worked_out(*entries: str, data: bytes | None = None, days: int = 366) -> Busy:
    whole = calendar_of(*entries) if data is None else data
    return busy(whole, "Europe/Dublin", NOW, NOW + timedelta(days=days))


def said(*entries: str, data: bytes | None = None) -> list[str]:
    found = worked_out(*entries, data=data)
    return [f"{EPOCH + a * CELL:%m-%dT%H:%M}/{EPOCH + b * CELL:%H:%M}" for a, b in found.cells]


# RFC 5545 section 3.3.5: a local time that the clock skips is read with the offset before the gap.
# New York skips 02:00-03:00 on 14 March 2027, so 02:30 there is 03:30 EDT, 07:30 UTC.
@pytest.mark.parametrize(
    ("begins", "ends", "expected"),
    [
        ("0230", "0300", "03-14T07:30/08:00"),
        ("0200", "0300", "03-14T07:00/08:00"),
        ("0230", "0330", "03-14T07:30/08:30"),
        ("0130", "0230", "03-14T06:30/07:30"),
        ("0130", "0330", "03-14T06:30/07:30"),
    ],
)
def test_an_entry_that_meets_a_gap_keeps_its_length(begins: str, ends: str, expected: str) -> None:
    """RFC 5545 3.3.5: what starts in a gap starts by the offset before it and lasts as written."""
    times = (f"DTSTART;{NEW_YORK}:20270314T{begins}00", f"DTEND;{NEW_YORK}:20270314T{ends}00")
    assert said(entry(*times)) == [expected]


def test_a_series_whose_first_date_is_the_gap_keeps_its_length() -> None:
    """Weekly 02:00-03:00 from the date that has no such hour: an hour each week, never nothing."""
    lines = (f"DTSTART;{NEW_YORK}:20270314T020000", f"DTEND;{NEW_YORK}:20270314T030000")
    found = said(entry(*lines, "RRULE:FREQ=WEEKLY;COUNT=3"))
    assert found == ["03-14T07:00/08:00", "03-21T06:00/07:00", "03-28T06:00/07:00"]


def test_one_uid_twice_is_the_union() -> None:
    """Two entries of one UID, neither newer by SEQUENCE, are both busy; a higher SEQUENCE wins."""
    first = entry("UID:a", "DTSTART:20270302T100000Z", "DURATION:PT1H")
    second = ("UID:a", "DTSTART:20270303T100000Z", "DURATION:PT1H")
    both = ["03-02T10:00/11:00", "03-03T10:00/11:00"]
    assert said(first, entry(*second)) == both
    assert said(data=calendar_of(first) + calendar_of(entry(*second))) == both
    assert said(first, entry(*second, "SEQUENCE:1")) == both[1:]


def test_one_uid_twice_keeps_its_changed_instances() -> None:
    """A calendar written twice into one file says the same as once, changed instance included."""
    series = entry("UID:a", "DTSTART:20270302T100000Z", "DURATION:PT1H", "RRULE:FREQ=DAILY;COUNT=2")
    change = ("UID:a", "RECURRENCE-ID:20270303T100000Z", "DTSTART:20270303T150000Z")
    once = calendar_of(series, entry(*change, "DURATION:PT1H"))
    assert said(data=once * 2) == said(data=once) == ["03-02T10:00/11:00", "03-03T15:00/16:00"]


def test_until_without_z_is_a_local_time() -> None:
    """RFC 5545 3.3.10 wants UTC beside a zone; what calendars write without Z they mean locally."""
    rule = "RRULE:FREQ=DAILY;UNTIL=20270304T100000"
    found = said(entry(f"DTSTART;{NEW_YORK}:20270302T100000", "DURATION:PT1H", rule))
    assert found == [f"03-0{day}T15:00/16:00" for day in (2, 3, 4)]


def test_until_without_z_in_a_zone_of_the_file_is_a_local_time() -> None:
    """The same where only the file knows the zone: 2:30 ahead of UTC in winter."""
    rule = "RRULE:FREQ=DAILY;UNTIL=20270304T213000"
    timed = entry("DTSTART;TZID=Our House:20270302T220000", "DURATION:PT1H", rule)
    found = said(zone_of("Our House"), timed)
    assert found == [f"03-0{day}T19:30/20:30" for day in (2, 3)]


@pytest.mark.parametrize(
    "taken_out", [f"{NEW_YORK}:20270303T100000", "VALUE=DATE-TIME:20270303T150000Z"]
)
def test_an_override_outlives_an_exdate_of_its_instance(taken_out: str) -> None:
    """Some calendars write a moved instance as taken out and as moved; moved is the later word."""
    series = ("UID:a", f"DTSTART;{NEW_YORK}:20270302T100000", "DURATION:PT1H")
    moved = entry(
        "UID:a",
        f"RECURRENCE-ID;{NEW_YORK}:20270303T100000",
        f"DTSTART;{NEW_YORK}:20270303T150000",
        "DURATION:PT1H",
    )
    found = said(entry(*series, "RRULE:FREQ=DAILY;COUNT=3", f"EXDATE;{taken_out}"), moved)
    assert found == ["03-02T15:00/16:00", "03-03T20:00/21:00", "03-04T15:00/16:00"]


def test_a_zone_that_names_the_hour_changes_by_the_year() -> None:
    """FREQ=YEARLY with one BYHOUR and one BYMINUTE is one change a year, however it is written."""
    rule = "RRULE:FREQ=YEARLY;BYMINUTE=0;BYHOUR=2;BYDAY=-1SU;BYMONTH=10"
    timed = entry("DTSTART;TZID=Our House:20270702T100000", "DURATION:PT1H")
    assert said(zone_of("Our House", rule), timed) == ["07-02T06:30/07:30"]


NAMELESS = (
    "BEGIN:VTIMEZONE\r\nBEGIN:STANDARD\r\nDTSTART:19700101T000000\r\nTZOFFSETFROM:+0000\r\n"
    "TZOFFSETTO:+0100\r\nEND:STANDARD\r\nEND:VTIMEZONE\r\n"
)
HOUR = ("DTSTART:20270302T100000Z", "DURATION:PT1H")
WHOLE = calendar_of(entry(*HOUR))


@pytest.mark.parametrize(
    ("data", "word"),
    [
        (calendar_of(entry(*HOUR, "RRULE:FREQ=DAILY; COUNT=1;BYDAY=TU, TH")), "space"),
        (calendar_of(entry(*HOUR, "EXDATE:")), "EXDATE"),
        (calendar_of(entry(*HOUR, "RDATE;VALUE=DATE:")), "RDATE"),
        (calendar_of(NAMELESS, entry(*HOUR)), "time zone"),
        (WHOLE + b"X-BYE:1\r\nhello there\r\n", "after its end"),
        (WHOLE + b"END:VCALENDAR\r\n", "after its end"),
    ],
)
def test_a_small_fault_is_read_with_a_note(data: bytes, word: str) -> None:
    """Faults that calendars are seen to make cost a note for the owner, not the whole file."""
    found = worked_out(data=data)
    assert len(found.cells) == 1
    assert len(found.notes) == 1
    assert word in found.notes[0]


def test_a_calendar_without_a_fault_has_no_note() -> None:
    """Notes are for faults alone."""
    assert worked_out(data=WHOLE).notes == ()


SINCE_2018 = [
    "FREQ=DAILY",
    "FREQ=DAILY;INTERVAL=3",
    "FREQ=DAILY;BYDAY=MO,WE",
    "FREQ=WEEKLY",
    "FREQ=WEEKLY;INTERVAL=2;BYDAY=TU,SU;WKST=SU",
    "FREQ=WEEKLY;INTERVAL=3;BYDAY=TU,SU;WKST=MO",
    "FREQ=WEEKLY;UNTIL=20280101T000000Z;BYHOUR=9,17",
    "FREQ=MONTHLY;BYDAY=-1FR",
    "FREQ=YEARLY",
]


@pytest.mark.parametrize("rule", SINCE_2018)
@pytest.mark.parametrize("first", ["20180102T100000", "20180104T023000", "20180106T013000"])
def test_a_long_series_says_what_it_would_from_its_start(rule: str, first: str) -> None:
    """A series that began in 2018 gives the dates that a plain walk over every date gives."""
    begins = datetime.fromisoformat(first)
    walked = rrulestr(rule.replace("Z;", ";"), dtstart=begins)
    clock = ZoneInfo("America/New_York")
    expected = {
        (wall.replace(tzinfo=clock).astimezone(UTC) - EPOCH) // CELL
        for wall in walked.between(datetime(2027, 2, 25), datetime(2028, 3, 5), inc=True)
    }
    low, high = (NOW - EPOCH) // CELL, (NOW + timedelta(days=366) - EPOCH) // CELL
    lines = (f"DTSTART;{NEW_YORK}:{first}", "DURATION:PT5M", f"RRULE:{rule}")
    found = worked_out(entry(*lines))
    assert [a for a, _ in found.cells] == sorted(a for a in expected if low <= a < high)


def test_a_series_costs_nothing_before_today() -> None:
    """Forty daily series since 1950 take at most twice what they take since last month."""

    def seconds(first: str) -> float:
        series = [
            entry(f"UID:{n}", f"DTSTART;{NEW_YORK}:{first}T{n % 24:02}0000", "RRULE:FREQ=DAILY")
            for n in range(40)
        ]
        data = calendar_of(*(one.replace("RRULE", "DURATION:PT1H\r\nRRULE") for one in series))
        tries = []
        for _ in range(3):
            begun = time.process_time()
            worked_out(data=data, days=30)
            tries.append(time.process_time() - begun)
        return min(tries)

    assert seconds("19500105") < 2 * seconds("20270205")
