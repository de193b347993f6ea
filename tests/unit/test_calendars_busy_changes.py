"""Changes of a series in a busy calendar: instances, added dates, sequences, free-busy periods."""

from datetime import UTC, datetime

from bookings.calendars.busy import busy
from bookings.domain.timeline import CELL, EPOCH
from tests.unit.busy_calendars import NOW, YEAR, said, shown
from tests.unit.calendars_samples import calendar_of, entry


def test_changes_of_one_instance_and_of_all_that_follow() -> None:
    """RFC 5545 3.8.4.4: RECURRENCE-ID moves, lengthens, frees or cancels one; RANGE=THISANDFUTURE
    moves it and the rest.
    """
    series = [
        "UID:a",
        "DTSTART;TZID=Europe/Dublin:20270302T100000",
        "DTEND;TZID=Europe/Dublin:20270302T110000",
        "RRULE:FREQ=DAILY;COUNT=5",
    ]

    def change(day: int, *lines: str, by: str = "RECURRENCE-ID;TZID=Europe/Dublin") -> str:
        return entry("UID:a", f"{by}:202703{day:02}T100000", *lines)

    found = said(
        entry(*series),
        change(
            2,
            "DTSTART;TZID=Europe/Dublin:20270302T150000",
            "DTEND;TZID=Europe/Dublin:20270302T170000",
        ),
        change(
            3, "DTSTART;TZID=Europe/Dublin:20270303T100000", "DURATION:PT1H", "STATUS:CANCELLED"
        ),
        change(
            4, "DTSTART;TZID=Europe/Dublin:20270304T100000", "DURATION:PT1H", "TRANSP:TRANSPARENT"
        ),
    )
    assert found == ["2027-03-02T15:00/17:00", "2027-03-05T10:00/11:00", "2027-03-06T10:00/11:00"]
    moved = [
        "DTSTART;TZID=Europe/Dublin:20270304T120000",
        "DTEND;TZID=Europe/Dublin:20270304T123000",
    ]
    found = said(
        entry(*series), change(4, *moved, by="RECURRENCE-ID;RANGE=THISANDFUTURE;TZID=Europe/Dublin")
    )
    assert found[:2] == ["2027-03-02T10:00/11:00", "2027-03-03T10:00/11:00"]
    assert found[2:] == [f"2027-03-0{day}T12:00/12:30" for day in (4, 5, 6)]


def test_dates_added_with_their_own_end() -> None:
    """RDATE with VALUE=PERIOD (3.8.5.2) has a length of its own, by an end or a duration."""
    found = said(
        entry(
            "DTSTART:20270302T100000Z",
            "DURATION:PT1H",
            "RDATE;VALUE=PERIOD:20270303T100000Z/20270303T103000Z,20270304T100000Z/PT2H",
        )
    )
    assert found == ["2027-03-02T10:00/11:00", "2027-03-03T10:00/10:30", "2027-03-04T10:00/12:00"]


def test_a_higher_sequence_wins() -> None:
    """Of two states of one entry in a file the later one counts (RFC 5546 2.1.5), also where it is
    over.
    """
    old = entry(
        "UID:a", "SEQUENCE:0", "DTSTART:20270302T100000Z", "DURATION:PT1H", "RRULE:FREQ=WEEKLY"
    )
    assert (
        said(old, entry("UID:a", "SEQUENCE:1", "DTSTART:20260302T100000Z", "DURATION:PT1H")) == []
    )


def test_free_busy_periods() -> None:
    """RFC 5545 3.6.4's busy reply word for word; FREE is left out, tentative and unknown types are
    kept (3.2.9).
    """
    reply = "FREEBUSY:19971015T050000Z/PT8H30M,19971015T160000Z/PT5H30M,19971015T223000Z/PT6H30M"
    when = datetime(1997, 10, 15, tzinfo=UTC)
    found = busy(
        calendar_of(f"BEGIN:VFREEBUSY\r\n{reply}\r\nEND:VFREEBUSY\r\n"),
        "Europe/Dublin",
        when,
        when + YEAR,
    )
    assert [shown(*cells) for cells in found.cells] == [
        "1997-10-15T05:00/13:30",
        "1997-10-15T16:00/21:30",
        "1997-10-15T22:30/1997-10-16T05:00",
    ]
    kinds = ["FREE", "BUSY", "BUSY-UNAVAILABLE", "BUSY-TENTATIVE", "X-OTHER"]
    lines = [
        f"FREEBUSY;FBTYPE={kind}:202703{day:02}T100000Z/202703{day:02}T110000Z"
        for day, kind in enumerate(kinds, 2)
    ]
    assert said("\r\n".join(["BEGIN:VFREEBUSY", *lines, "END:VFREEBUSY", ""])) == [
        f"2027-03-0{day}T10:00/11:00" for day in (3, 4, 5, 6)
    ]


def test_text_is_left_behind() -> None:
    """Names, places, people and alarms are read past, folded or broken inside, and neither they nor
    the UID reach what is returned.
    """
    text = entry(
        "UID:harp@elsewhere.example",
        "DTSTART:20270302T100000Z",
        "DURATION:PT1H",
        "SUMMARY:Dentist\\, upper left",
        "ATTENDEE;CN=Noor:mailto:noor@rowanmere.example",
        "X-THING;X-A=b:anything",
        "BEGIN:VALARM",
        "TRIGGER:-PT15M",
        "DTSTART:nonsense",
        "END:VALARM",
        "DESCRIPTION:is a lo",
        " ng description",
        "\tthat exists on a long line.",
    )
    assert (
        repr(busy(calendar_of(text), "Europe/Dublin", NOW, NOW + YEAR))
        == f"Busy(cells=[({_cell(2, 10)}, {_cell(2, 11)})], unknown_zones=0, notes=())"
    )


def _cell(day: int, hour: int) -> int:
    return (datetime(2027, 3, day, hour, tzinfo=UTC) - EPOCH) // CELL
