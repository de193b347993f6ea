"""Files of hours as people send them: what hours can say, what they cannot, and what is refused."""

import time as machine
from datetime import date

import pytest

from bookings.calendars.availability import read_availability
from bookings.domain.errors import Refused
from bookings.domain.proposals import proposal
from tests.unit.availability_files import STAMP, file


def available(*lines):
    return file("BEGIN:VAVAILABILITY", "UID:1", "DTSTAMP:20261101T000000Z",
        "BEGIN:AVAILABLE", "UID:2", "DTSTAMP:20261101T000000Z", *lines,
        "END:AVAILABLE", "END:VAVAILABILITY")  # fmt: skip


START = "DTSTART;TZID=Europe/Dublin:20261102T153000"
END = "DTEND;TZID=Europe/Dublin:20261102T203000"


def test_exceptions_become_extra_hours_and_days_away():
    """EXDATE of the only window of a day is a day away, a single period is extra hours, UNTIL
    bounds; each told in the week's zone.
    """
    weekly = ("BEGIN:AVAILABLE", "UID:2", "DTSTAMP:20261101T000000Z", START, END,
        "RRULE:FREQ=WEEKLY;BYDAY=MO", "EXDATE;TZID=Europe/Dublin:20261123T153000,20261130T153000",
        "END:AVAILABLE")  # fmt: skip
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
    half = ("BEGIN:VAVAILABILITY", "UID:9", "DTSTAMP:20261101T000000Z", "PRIORITY:1",
        "DTSTART;TZID=Europe/Dublin:20261109T153000", "DTEND;TZID=Europe/Dublin:20261109T173000",
        "END:VAVAILABILITY")  # fmt: skip
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
    """A code and a sentence in under two seconds of process time, whatever the file holds."""
    text, code = REFUSED[case]
    began = machine.process_time()
    with pytest.raises(Refused) as caught:
        read_availability(text)
    assert machine.process_time() - began < 2
    assert (caught.value.code, str(caught.value)[-1]) == (code, ".")


def test_the_largest_file_let_through_is_quick():
    """As many long windows as fit, each with a zone and a length of its own, at every priority:
    read and proposed in two seconds.
    """
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
    """RFC 5545 3.2.19's globally unique names and those of the CLDR table mean their IANA zone."""
    times = [line.replace("Europe/Dublin", tzid) for line in (START, END)]
    (block,) = read_availability(available(*times))
    assert {window.time_zone for window in block.windows} == {"Europe/London"}
