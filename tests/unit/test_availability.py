"""Availability (RFC 7953): its tables cell by cell, hours written and read back, and what a file
may not say.
"""

from datetime import UTC, datetime, timedelta

import pytest

from bookings.calendars.availability import read_availability
from bookings.domain.availability import Block, BusyType, Window, free_busy
from bookings.domain.timeline import Horizon, Period
from bookings.domain.zones import zone
from tests.unit.availability_files import file

MONTREAL, DENVER = "America/Montreal", "America/Denver"

LETTERS = {"FREE": "F", "BUSY": "B", "BUSY-UNAVAILABLE": "U", "BUSY-TENTATIVE": "T"}


def wall(text, time_zone):
    return datetime.fromisoformat(text).replace(tzinfo=zone(time_zone))


def cells_of_day(blocks, day, time_zone, busy=()):
    """The day in steps of two hours of its wall clock, as the tables of RFC 7953 section 5.1 print
    it.
    """
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
    """RFC 7953 section 5.1.1 and appendix A; its Monday 6 November 2011 is a Sunday, so the day
    after it is taken.
    """
    blocks = read_availability(file(*BASE))
    event = Period(wall("2011-11-07T12:00", MONTREAL), wall("2011-11-07T14:00", MONTREAL))
    assert cells_of_day(blocks, "2011-11-07", MONTREAL, [event]) == "UUUUFFBFFUUU"


def test_the_printed_date_of_the_first_table_is_a_sunday():
    """6 November 2011, on which the American clocks went back: unavailable all day."""
    assert cells_of_day(read_availability(file(*BASE)), "2011-11-06", MONTREAL) == "U" * 12


def test_the_second_table_of_the_rfc():
    """RFC 7953 section 5.1.2 and appendix B: a week in Denver at PRIORITY 1 overrides the week in
    Montreal, a meeting lies on top.
    """
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
    """RFC 7953 section 3.1: Montreal until 03:00 on 23 October, Denver from its own midnight, an
    hour of which both hold.
    """
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
    """RFC 7953 section 4: 0 is the lowest, then 9 down to 1; a lower one's windows say nothing
    inside a higher one's period.
    """
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
