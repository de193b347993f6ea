"""The examples that RFC 5545 prints of folding, text, times, durations, periods and rules, through
our writers and our readers.
"""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from bookings.calendars.busy import busy
from bookings.calendars.content import read
from bookings.calendars.events import to_vevent
from bookings.calendars.invitations import request
from bookings.domain.errors import Refused
from bookings.domain.timeline import CELL, EPOCH
from tests.unit.calendars_samples import CONSULTATION, NOOR, SCHOOL, calendar_of, entry

LONG_LINE = "This is a long description that exists on a long line."


def unfolded(written: bytes) -> list[str]:
    """Section 3.1: a line break followed by one space or tab is taken out."""
    return written.decode().replace("\r\n ", "").replace("\r\n\t", "").split("\r\n")


def description(text: str) -> tuple[bytes, str]:
    """What we write of a meeting with that description, and its one line."""
    written = request(replace(CONSULTATION, description=text), SCHOOL, NOOR)
    (line,) = (line for line in unfolded(written) if line.startswith("DESCRIPTION"))
    return written, line


def busy_at(*lines: str, clock: str = "Europe/Dublin", days: int = 400) -> list[tuple[str, str]]:
    """The busy periods of one entry from 1997 on, in UTC."""
    since = datetime(1997, 1, 1, tzinfo=UTC)
    cells = busy(calendar_of(entry(*lines)), clock, since, since + timedelta(days=days)).cells
    return [
        (f"{EPOCH + first * CELL:%Y%m%dT%H%MZ}", f"{EPOCH + past * CELL:%Y%m%dT%H%MZ}")
        for first, past in cells
    ]


@pytest.mark.parametrize("fold", ["\r\n ", "\r\n\t"])
def test_the_folded_description_of_section_3_1_is_read_as_one_line(fold):
    """RFC 5545 section 3.1: the printed fold, within a word and before a space.

    A UID stands in: no text of a foreign file is kept.
    """
    folded = f"UID:This is a lo{fold}ng description{fold} that exists on a long line."
    (calendar,), _ = read(calendar_of(entry("DTSTART:19970714T173000Z", folded)))
    assert [line.value for line in calendar.inner[0].all("UID")] == [LONG_LINE]


def test_a_fold_may_cut_a_value_that_is_read():
    """RFC 5545 section 3.1: folding goes before everything else, so it may cut a name, a parameter
    and a time.
    """
    assert busy_at(
        "DTST\r\n ART;TZID=America/New\r\n _York:19970714T1\r\n\t33000", "DURATION:PT1\r\n H"
    ) == [("19970714T1730Z", "19970714T1830Z")]


def test_the_description_of_section_3_1_is_written_and_folded():
    """RFC 5545 section 3.1: what fits stays one line; what does not is folded by CRLF and one
    space, and unfolds to itself.
    """
    written, line = description(LONG_LINE)
    assert line == f"DESCRIPTION:{LONG_LINE}" and f"\r\n{line}\r\n".encode() in written
    written, line = description(" ".join([LONG_LINE] * 4))
    assert (
        line == f"DESCRIPTION:{' '.join([LONG_LINE] * 4)}"
        and f"\r\n{line}\r\n".encode() not in written
    )
    assert max(map(len, written.split(b"\r\n"))) == 75


def test_the_text_of_section_3_3_11_is_written_as_printed():
    """RFC 5545 section 3.3.11: three lines become one value; its grammar escapes backslash,
    semicolon and comma, and no colon.
    """
    _, line = description("Project XYZ Final Review\nConference Room - 3B\nCome Prepared.")
    assert line == r"DESCRIPTION:Project XYZ Final Review\nConference Room - 3B\nCome Prepared."
    _, line = description("a;b,c\\d: e")
    assert line == r"DESCRIPTION:a\;b\,c\\d: e"
    assert (
        to_vevent(replace(CONSULTATION, summary="a;b,c\\d"))["SUMMARY"].to_ical() == rb"a\;b\,c\\d"
    )


@pytest.mark.parametrize(
    ("start", "clock", "instant"),
    [
        (":19980118T230000", "America/New_York", "19980119T0400Z"),  # form 1, on the owner's clock
        (":19980118T230000", "Europe/Dublin", "19980118T2300Z"),
        (":19980119T070000Z", "Europe/Dublin", "19980119T0700Z"),  # form 2
        (";TZID=America/New_York:19980119T020000", "Europe/Dublin", "19980119T0700Z"),  # form 3
        (":19970714T133000", "America/New_York", "19970714T1730Z"),
        (":19970714T173000Z", "America/New_York", "19970714T1730Z"),
        (";TZID=America/New_York:19970714T133000", "Asia/Kathmandu", "19970714T1730Z"),
        (";TZID=America/New_York:20071104T013000", "Asia/Kathmandu", "20071104T0530Z"),
        (";TZID=America/New_York:20070311T023000", "Asia/Kathmandu", "20070311T0730Z"),
    ],
)
def test_the_times_of_section_3_3_5_are_read(start, clock, instant):
    """RFC 5545 section 3.3.5: the three forms, each example, the repeated hour and the gap."""
    ((first, _),) = busy_at(f"DTSTART{start}", "DURATION:PT1H", clock=clock, days=366 * 12)
    assert first == instant


def test_a_leap_second_is_read():
    """RFC 5545 section 3.3.5 prints 19970630T235960Z; by section 3.3.12 who knows no leap second
    takes second 60 for 59.
    """
    assert busy_at("DTSTART:19970630T235960Z", "DURATION:PT1H") == [
        ("19970630T2355Z", "19970701T0100Z")
    ]


def test_an_offset_in_a_time_is_refused():
    """RFC 5545 section 3.3.5: "19980119T230000-0800" is given there as invalid."""
    with pytest.raises(Refused) as refused:
        busy_at("DTSTART:19980119T230000-0800", "DURATION:PT1H")
    assert refused.value.code == "calendar-unreadable"


@pytest.mark.parametrize(
    ("duration", "end"), [("P15DT5H0M20S", "19970716T0505Z"), ("P7W", "19970819T0000Z")]
)
def test_the_durations_of_section_3_3_6_are_read(duration, end):
    """RFC 5545 section 3.3.6: fifteen days, five hours and twenty seconds (rounded outward to five
    minutes); seven weeks.
    """
    assert busy_at("DTSTART:19970701T000000Z", f"DURATION:{duration}") == [("19970701T0000Z", end)]


@pytest.mark.parametrize(
    ("period", "end"),
    [
        ("19970101T180000Z/19970102T070000Z", "19970102T0700Z"),
        ("19970101T180000Z/PT5H30M", "19970101T2330Z"),
    ],
)
def test_the_periods_of_section_3_3_9_are_read(period, end):
    """RFC 5545 section 3.3.9: a start with its end, and a start with its length."""
    since = datetime(1997, 1, 1, tzinfo=UTC)
    part = (
        f"BEGIN:VFREEBUSY\r\nUID:a\r\nDTSTAMP:19970101T000000Z\r\nFREEBUSY:{period}\r\n"
        "END:VFREEBUSY\r\n"
    )
    ((_, past),) = busy(calendar_of(part), "Europe/Dublin", since, since + timedelta(days=9)).cells
    assert f"{EPOCH + past * CELL:%Y%m%dT%H%MZ}" == end


def test_the_rules_of_section_3_3_10_are_worked_out():
    """RFC 5545 section 3.3.10: ten times every other day; the month's last work day; Sundays of
    every other January, twice.
    """
    every_other = busy_at(
        "DTSTART:19970102T090000Z", "DURATION:PT5M", "RRULE:FREQ=DAILY;COUNT=10;INTERVAL=2"
    )
    assert [first[:8] for first, _ in every_other] == [f"199701{day:02}" for day in range(2, 21, 2)]
    last = busy_at(
        "DTSTART:19970131T090000Z",
        "DURATION:PT5M",
        "RRULE:FREQ=MONTHLY;COUNT=4;BYDAY=MO,TU,WE,TH,FR;BYSETPOS=-1",
    )
    assert [first[:8] for first, _ in last] == ["19970131", "19970228", "19970331", "19970430"]
    rule = "RRULE:FREQ=YEARLY;INTERVAL=2;BYMONTH=1;BYDAY=SU;BYHOUR=8,9;BYMINUTE=30"
    sundays = busy_at(
        "DTSTART;TZID=America/New_York:19970105T083000", "DURATION:PT5M", rule, days=366 * 3
    )
    dates = [
        "19970105",
        "19970112",
        "19970119",
        "19970126",
        "19990103",
        "19990110",
        "19990117",
        "19990124",
        "19990131",
    ]
    assert [first for first, _ in sundays] == [
        f"{day}T{hour}30Z" for day in dates for hour in (13, 14)
    ]


def test_a_date_that_does_not_exist_is_passed_over():
    """RFC 5545 section 3.3.10: there is no 30 February, and it is ignored and not counted."""
    rule = "RRULE:FREQ=MONTHLY;BYMONTHDAY=15,30;COUNT=5"
    found = busy_at(
        "DTSTART;TZID=America/New_York:20070115T090000", "DURATION:PT5M", rule, days=366 * 11
    )
    assert [first[:8] for first, _ in found] == [
        "20070115",
        "20070130",
        "20070215",
        "20070315",
        "20070330",
    ]
