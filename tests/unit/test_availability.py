"""Availability (RFC 7953): its tables cell by cell, hours written and read back, and what a file may not say."""

import time as machine
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookings.calendars.availability import read_availability
from bookings.calendars.hours_file import hours_to_ical
from bookings.domain.availability import Block, BusyType, Window, free_busy
from bookings.domain.errors import Refused
from bookings.domain.hours import Away, DatedWindow, TeachingTime, WeeklyWindow, teachable
from bookings.domain.proposals import proposal
from bookings.domain.timeline import Horizon, Period
from bookings.domain.zones import zone

MONTREAL, DENVER = "America/Montreal", "America/Denver"
STAMP = datetime(2026, 11, 2, 9, 0, tzinfo=UTC)
LETTERS = {"FREE": "F", "BUSY": "B", "BUSY-UNAVAILABLE": "U", "BUSY-TENTATIVE": "T"}


def wall(text, time_zone):
    return datetime.fromisoformat(text).replace(tzinfo=zone(time_zone))


def cells_of_day(blocks, day, time_zone, busy=()):
    """The day in steps of two hours of its wall clock, as the tables of RFC 7953 section 5.1 print it."""
    midnight = wall(day, time_zone)
    horizon = Horizon.spanning(midnight, midnight + timedelta(days=1))
    found = free_busy(blocks, horizon, {BusyType.BUSY: list(busy)})
    assert sum(found.values()) == horizon.full, "each cell has one kind"
    marks = ""
    for hour in range(0, 24, 2):
        first = horizon.index(
            (midnight.replace(tzinfo=None) + timedelta(hours=hour)).replace(tzinfo=zone(time_zone))
        )
        here = [LETTERS[kind] for kind, mask in found.items() if mask >> first & 1]
        marks += here[0]
    return marks


def file(*lines):
    return "\r\n".join(
        ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Test//Test//EN", *lines, "END:VCALENDAR", ""]
    )


BASE = (
    "BEGIN:VAVAILABILITY",
    "UID:0428C7D2-688E-4D2E-AC52-CD112E2469DF",
    "DTSTAMP:20111005T133225Z",
    "BEGIN:AVAILABLE",
    "UID:34EDA59B-6BB1-4E94-A66C-64999089C0AF",
    "DTSTAMP:20111005T133225Z",
    "SUMMARY:Monday to Friday from 9:00 to 17:00",
    "DTSTART;TZID=America/Montreal:20111003T080000",
    "DTEND;TZID=America/Montreal:20111003T180000",
    "RRULE:FREQ=WEEKLY;BYDAY=MO,TU,WE,TH,FR",
    "END:AVAILABLE",
    "END:VAVAILABILITY",
)
TRAVEL = (
    "BEGIN:VAVAILABILITY",
    "UID:2",
    "DTSTAMP:20111005T133225Z",
    "DTSTART;TZID=America/Denver:20111023T000000",
    "DTEND;TZID=America/Denver:20111030T000000",
    "PRIORITY:1",
    "BEGIN:AVAILABLE",
    "UID:3",
    "DTSTAMP:20111005T133225Z",
    "DTSTART;TZID=America/Denver:20111024T080000",
    "DTEND;TZID=America/Denver:20111024T180000",
    "RRULE:FREQ=WEEKLY;BYDAY=MO,TU,WE,TH,FR",
    "END:AVAILABLE",
    "END:VAVAILABILITY",
)


def test_the_first_table_of_the_rfc():
    """RFC 7953 section 5.1.1 and appendix A; its Monday 6 November 2011 is a Sunday, so the day after it is taken."""
    blocks = read_availability(file(*BASE))
    event = Period(wall("2011-11-07T12:00", MONTREAL), wall("2011-11-07T14:00", MONTREAL))
    assert cells_of_day(blocks, "2011-11-07", MONTREAL, [event]) == "UUUUFFBFFUUU"


def test_the_printed_date_of_the_first_table_is_a_sunday():
    """6 November 2011, on which the American clocks went back: unavailable all day."""
    assert cells_of_day(read_availability(file(*BASE)), "2011-11-06", MONTREAL) == "U" * 12


def test_the_second_table_of_the_rfc():
    """RFC 7953 section 5.1.2 and appendix B: a week in Denver at PRIORITY 1 overrides the week in Montreal, a meeting lies on top."""
    blocks = read_availability(file(*BASE, *TRAVEL))
    meeting = Period(wall("2011-10-24T12:00", DENVER), wall("2011-10-24T14:00", DENVER))
    assert cells_of_day(blocks, "2011-10-24", MONTREAL, [meeting]) == "UUUUUFFBFFUU"
    horizon = Horizon.spanning(
        datetime(2011, 10, 24, tzinfo=UTC), datetime(2011, 10, 25, 12, tzinfo=UTC)
    )
    free = free_busy(blocks, horizon, {BusyType.BUSY: [meeting]})["FREE"]
    day = [(14, 18), (20, 24)]
    expected = sum(
        horizon.mask_inward(
            Period(
                datetime(2011, 10, 24, a, tzinfo=UTC),
                datetime(2011, 10, 24, tzinfo=UTC) + timedelta(hours=b),
            )
        )
        for a, b in day
    )
    assert free == expected


def test_the_three_parts_of_the_rfc_leave_a_hole():
    """RFC 7953 section 3.1: Montreal until 03:00 on 23 October, Denver from its own midnight, an hour of which both hold."""
    until = wall("2011-10-23T03:00", MONTREAL)
    back = wall("2011-10-30T03:00", MONTREAL)

    def week(day, time_zone):
        opens = datetime.fromisoformat(f"{day}T08:00")
        return (Window(opens, opens.replace(hour=18), time_zone, (0, 1, 2, 3, 4)),)

    parts = [
        Block(
            week("2011-10-03", MONTREAL),
            wall("2011-10-02T00:00", MONTREAL).astimezone(UTC),
            until.astimezone(UTC),
        ),
        Block(
            week("2011-10-24", DENVER),
            wall("2011-10-23T00:00", DENVER).astimezone(UTC),
            wall("2011-10-30T00:00", DENVER).astimezone(UTC),
        ),
        Block(week("2011-10-31", MONTREAL), back.astimezone(UTC), None),
    ]
    horizon = Horizon.spanning(
        datetime(2011, 10, 30, tzinfo=UTC), datetime(2011, 10, 31, 23, tzinfo=UTC)
    )
    found = free_busy(parts, horizon)
    hole = Period(
        datetime(2011, 10, 30, 6, tzinfo=UTC), datetime(2011, 10, 30, 7, tzinfo=UTC)
    )  # 00:00 in Denver to 03:00 in Montreal
    assert found["FREE"] & horizon.mask_outward(hole) == horizon.mask_outward(hole), (
        "no part speaks of that hour, so it is free"
    )
    before = Period(datetime(2011, 10, 30, tzinfo=UTC), hole.starts_at)
    assert not found["FREE"] & horizon.mask_outward(before)
    monday = Period(wall("2011-10-31T08:00", MONTREAL), wall("2011-10-31T18:00", MONTREAL))
    assert found["FREE"] & horizon.mask_inward(monday) == horizon.mask_inward(monday)


@pytest.mark.parametrize(
    ("kinds", "holds"),
    [(("BUSY-TENTATIVE", "BUSY"), "B"), (("BUSY-TENTATIVE", "BUSY-UNAVAILABLE"), "U")],
)
def test_the_stronger_kind_holds_at_one_priority(kinds, holds):
    """RFC 7953 section 4: BUSY before BUSY-UNAVAILABLE before BUSY-TENTATIVE."""
    assert (
        cells_of_day(
            [Block(busy=BusyType(kind), priority=5) for kind in kinds], "2027-03-01", "UTC"
        )
        == holds * 12
    )


@pytest.mark.parametrize(("low", "high"), [(0, 9), (9, 8), (2, 1), (0, 1)])
def test_a_higher_priority_overrides_the_whole_period(low, high):
    """RFC 7953 section 4: 0 is the lowest, then 9 down to 1; a lower one's windows say nothing inside a higher one's period."""
    opens = datetime(2027, 3, 1, 8, 0)
    base = Block((Window(opens, opens.replace(hour=18), "UTC"),), priority=low)
    above = Block(
        (),
        datetime(2027, 3, 1, 10, tzinfo=UTC),
        datetime(2027, 3, 1, 14, tzinfo=UTC),
        BusyType.TENTATIVE,
        high,
    )
    for order in ([base, above], [above, base]):
        assert cells_of_day(order, "2027-03-01", "UTC") == "UUUUFTTFFUUU"


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
    """Hours as an instructor may publish them: a week in one zone, extra hours and days away in the year ahead."""
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
        Away(on, on + timedelta(days=draw(st.integers(0, 9))), time_zone)
        for on in sorted(draw(st.sets(days, max_size=2)))
    ]
    return TeachingTime(tuple(weekly), tuple(extra), tuple(away))


@given(teaching=published())
def test_hours_written_and_read_are_the_same_hours_for_a_year(teaching):
    """Every cell of a year, clock changes and midnight gaps included, by the file's own meaning and by the hours proposed from it."""
    written = hours_to_ical("7", teaching, stamp=STAMP, name="Hours")
    assert written == hours_to_ical("7", teaching, stamp=STAMP, name="Hours")
    blocks = read_availability(written.decode())
    horizon = Horizon.spanning(STAMP + timedelta(days=1), STAMP + timedelta(days=364))
    meant = teachable(teaching, horizon)
    assert free_busy(blocks, horizon)["FREE"] == meant
    found = proposal(blocks, time_zone="UTC", now=STAMP)
    assert found.unexpressed == ()
    assert teachable(found.teaching(), horizon) == meant


def test_the_file_keeps_its_zone():
    """A weekly hour is written in its zone with a VTIMEZONE, lines end in CRLF and none is longer than 75 octets (RFC 5545 3.1)."""
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


def available(*lines):
    return file("BEGIN:VAVAILABILITY", "UID:1", "DTSTAMP:20261101T000000Z", "BEGIN:AVAILABLE", "UID:2", "DTSTAMP:20261101T000000Z", *lines,
        "END:AVAILABLE", "END:VAVAILABILITY")  # fmt: skip


START = "DTSTART;TZID=Europe/Dublin:20261102T153000"
END = "DTEND;TZID=Europe/Dublin:20261102T203000"


def test_exceptions_become_extra_hours_and_days_away():
    """EXDATE of the only window of a day is a day away, a single period is extra hours, UNTIL bounds; each told in the week's zone."""
    weekly = ("BEGIN:AVAILABLE", "UID:2", "DTSTAMP:20261101T000000Z", START, END, "RRULE:FREQ=WEEKLY;BYDAY=MO",
        "EXDATE;TZID=Europe/Dublin:20261123T153000,20261130T153000", "END:AVAILABLE")  # fmt: skip
    once = (
        "BEGIN:AVAILABLE",
        "UID:3",
        "DTSTAMP:20261101T000000Z",
        "DTSTART:20261205T100000Z",
        "DURATION:PT2H",
        "END:AVAILABLE",
    )
    text = file(
        "BEGIN:VAVAILABILITY",
        "UID:1",
        "DTSTAMP:20261101T000000Z",
        *weekly,
        *once,
        "END:VAVAILABILITY",
    )
    found = proposal(read_availability(text), time_zone="UTC", now=STAMP)
    assert (found.time_zone, found.windows, found.unexpressed) == (
        "Europe/Dublin",
        ((0, 930, 1230),),
        (),
    )
    assert found.extra == ((date(2026, 12, 5), 600, 720),)
    assert found.away == ((date(2026, 11, 23), date(2026, 11, 30)),)


def test_what_hours_cannot_say_is_told_by_date():
    """Half a day off, and a week on another clock."""
    half = ("BEGIN:VAVAILABILITY", "UID:9", "DTSTAMP:20261101T000000Z", "PRIORITY:1", "DTSTART;TZID=Europe/Dublin:20261109T153000",
        "DTEND;TZID=Europe/Dublin:20261109T173000", "END:VAVAILABILITY")  # fmt: skip
    weekly = available(START, END, "RRULE:FREQ=WEEKLY;BYDAY=MO")
    found = proposal(
        read_availability(
            weekly.replace("END:VCALENDAR\r\n", "\r\n".join([*half, "END:VCALENDAR", ""]))
        ),
        time_zone="UTC",
        now=STAMP,
    )
    assert found.windows == ((0, 930, 1230),)
    assert len(found.unexpressed) == 1 and "9 November 2026" in found.unexpressed[0]


REFUSED = {
    "nothing": ("", "calendar-unreadable"),
    "not a calendar": ("hello", "calendar-unreadable"),
    "no availability": (file("BEGIN:VEVENT", "UID:1", "END:VEVENT"), "invalid"),
    "no DTSTART": (available(END), "invalid"),
    "no end": (available(START), "invalid"),
    "floating": (available("DTSTART:20261102T153000", "DTEND:20261102T203000"), "naive-time"),
    "a date": (available("DTSTART;VALUE=DATE:20261102", "DTEND;VALUE=DATE:20261103"), "naive-time"),
    "unknown zone": (
        available(START.replace("Europe/Dublin", "Nowhere/Else"), END),
        "unknown-zone",
    ),
    "ends first": (
        available(END.replace("DTEND", "DTSTART"), START.replace("DTSTART", "DTEND")),
        "end-before-start",
    ),
    "negative length": (available(START, "DURATION:-PT1H"), "end-before-start"),
    "two starts": (available(START, START, END), "calendar-unreadable"),
    "no such day": (
        available("DTSTART;TZID=Europe/Dublin:20261302T153000", END),
        "calendar-unreadable",
    ),
    "year 0": (available("DTSTART:00010101T000000Z", "DTEND:00010101T010000Z"), "invalid"),
    "year 9999": (available("DTSTART:99991231T230000Z", "DURATION:P9000W"), "invalid"),
    "daily": (available(START, END, "RRULE:FREQ=DAILY"), "invalid"),
    "every second": (available(START, END, "RRULE:FREQ=SECONDLY"), "invalid"),
    "monthly": (available(START, END, "RRULE:FREQ=MONTHLY;BYDAY=1MO"), "invalid"),
    "every other week": (available(START, END, "RRULE:FREQ=WEEKLY;INTERVAL=2;BYDAY=MO"), "invalid"),
    "a count": (available(START, END, "RRULE:FREQ=WEEKLY;COUNT=99999999;BYDAY=MO"), "invalid"),
    "by month": (available(START, END, "RRULE:FREQ=WEEKLY;BYMONTH=1;BYDAY=MO"), "invalid"),
    "numbered weekday": (available(START, END, "RRULE:FREQ=WEEKLY;BYDAY=1MO"), "invalid"),
    "not its own day": (available(START, END, "RRULE:FREQ=WEEKLY;BYDAY=TU"), "invalid"),
    "two rules": (available(START, END, "RRULE:FREQ=WEEKLY", "RRULE:FREQ=WEEKLY"), "invalid"),
    "RDATE": (available(START, END, "RDATE;TZID=Europe/Dublin:20261109T153000"), "invalid"),
    "RECURRENCE-ID": (
        available(START, END, "RECURRENCE-ID;TZID=Europe/Dublin:20261109T153000"),
        "invalid",
    ),
    "two days long": (available(START, "DURATION:P2D", "RRULE:FREQ=WEEKLY"), "invalid"),
    "floating EXDATE": (
        available(START, END, "RRULE:FREQ=WEEKLY", "EXDATE:20261109T153000"),
        "naive-time",
    ),
    "priority": (available(START, END).replace("UID:1", "UID:1\r\nPRIORITY:10"), "invalid"),
    "busy type": (available(START, END).replace("UID:1", "UID:1\r\nBUSYTYPE:OUT"), "invalid"),
    "priority word": (
        available(START, END).replace("UID:1", "UID:1\r\nPRIORITY:high"),
        "calendar-unreadable",
    ),
    "cut off": (available(START, END)[:150], "calendar-unreadable"),
    "too long": (available(START, END, "SUMMARY:" + "x" * 100_000), "too-large"),
    "nested": (file(*["BEGIN:VAVAILABILITY"] * 400), "too-large"),
    "many windows": (
        file(
            "BEGIN:VAVAILABILITY", *["BEGIN:AVAILABLE", "END:AVAILABLE"] * 400, "END:VAVAILABILITY"
        ),
        "too-large",
    ),
    "open zones": (file(*["BEGIN:VTIMEZONE"] * 5000), "calendar-unreadable"),
    "spaces": (file(*[" "] * 30_000), "invalid"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_a_broken_file_is_refused_quickly_and_by_name(case):
    """A code and a sentence in under two seconds of this process's time, whatever the file holds."""
    text, code = REFUSED[case]
    began = machine.process_time()
    with pytest.raises(Refused) as caught:
        read_availability(text)
    assert machine.process_time() - began < 2
    assert (caught.value.code, str(caught.value)[-1]) == (code, ".")


def test_the_largest_file_let_through_is_quick():
    """As many long windows as fit, each with a zone and a length of its own, at every priority: read and proposed in two seconds."""
    windows = []
    for number in range(290):
        end = f"{2100 + number % 90}0101T{number % 24:02}0000"
        windows += [
            "BEGIN:AVAILABLE",
            f"UID:{number}",
            "DTSTART;TZID=Europe/Dublin:19710101T000000",
            f"DTEND;TZID=America/Havana:{end}",
            "END:AVAILABLE",
        ]
    text = file(
        "BEGIN:VAVAILABILITY", "UID:1", "DTSTAMP:20261101T000000Z", *windows, "END:VAVAILABILITY"
    )
    began = machine.process_time()
    proposal(read_availability(text), time_zone="UTC", now=STAMP)
    assert machine.process_time() - began < 2


@pytest.mark.parametrize(
    "tzid", ["GMT Standard Time", "/rowanmere.example/20260101_1/Europe/London", '"Europe/London"']
)
def test_a_zone_by_another_name_is_read_as_in_busy_calendars(tzid):
    """RFC 5545 3.2.19's globally unique names and the names of the CLDR table mean their IANA zone."""
    times = [line.replace("Europe/Dublin", tzid) for line in (START, END)]
    (block,) = read_availability(available(*times))
    assert {window.time_zone for window in block.windows} == {"Europe/London"}
