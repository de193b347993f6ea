"""Scenarios of the invented school: clock changes, a minor's night, the packed chain."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from bookings.domain.errors import Refused
from bookings.domain.hours import TeachingTime, WeeklyWindow
from bookings.domain.policy import Policy, changeover_minutes
from bookings.domain.slots import (
    InstructorTime,
    OfferingRules,
    Slot,
    SlotRequest,
    StudentTime,
    check_start,
    find_slots,
)
from bookings.domain.timeline import Period
from bookings.domain.vocabulary import Grid

DUBLIN, NEW_YORK, SYDNEY, LORD_HOWE = (
    "Europe/Dublin",
    "America/New_York",
    "Australia/Sydney",
    "Australia/Lord_Howe",
)
NOOR = StudentTime(1, NEW_YORK)
POSY = StudentTime(2, SYDNEY, adult_on=date(2034, 9, 1))
SATURDAY, SUNDAY = 5, 6
HALF_HOURS = OfferingRules(30, 0, Grid.CLOCK, 30)


def utc(text: str) -> datetime:
    """An instant from its text in UTC."""
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def teaches(instructor_id: int, zone: str, weekday: int, opens: int, closes: int) -> InstructorTime:
    """An instructor with one weekly window."""
    return InstructorTime(
        instructor_id, zone, TeachingTime((WeeklyWindow(weekday, opens, closes, zone),))
    )


def slots_on(
    day: str, offering: OfferingRules, instructor: InstructorTime, student: StudentTime = NOOR
) -> list[Slot]:
    """What is offered within 24 hours of noon UTC the day before, asked for ten days earlier."""
    noon = utc(day) - timedelta(hours=12)
    return find_slots(
        SlotRequest(offering, noon, noon + timedelta(hours=48)),
        [instructor],
        student,
        Policy(),
        noon - timedelta(days=10),
    )


def wall_times(found: list[Slot], zone: str) -> list[str]:
    """Their starts on that wall clock, with the offset."""
    return [f"{slot.starts_at.astimezone(ZoneInfo(zone)):%H:%M%z}" for slot in found]


@pytest.mark.parametrize("grid", list(Grid))
def test_missing_time(grid):
    """Hours 02:00-04:00 on 14 March 2027 in New York: 02:00-03:00 does not exist (IANA), so nothing
    starts in it.
    """
    wren = teaches(2, NEW_YORK, SUNDAY, 120, 240)
    found = slots_on("2027-03-14", OfferingRules(30, 0, grid, 30), wren)
    assert wall_times(found, NEW_YORK) == ["03:00-0400", "03:30-0400"]
    assert found[0].starts_at == utc("2027-03-14T07:00")


@pytest.mark.parametrize("grid", list(Grid))
def test_double_time(grid):
    """Hours 01:00-02:00 on 7 November 2027 in New York come twice (IANA): both are offered, and one
    can be taken alone.
    """
    wren = teaches(2, NEW_YORK, SUNDAY, 60, 120)
    offering = OfferingRules(30, 0, grid, 30)
    found = slots_on("2027-11-07", offering, wren)
    assert wall_times(found, NEW_YORK) == ["01:00-0400", "01:30-0400", "01:00-0500", "01:30-0500"]
    assert {utc("2027-11-07T05:30"), utc("2027-11-07T06:30")} <= {slot.starts_at for slot in found}
    first_taken = InstructorTime(
        2, NEW_YORK, wren.teaching, (Period(utc("2027-11-07T05:30"), utc("2027-11-07T06:00")),)
    )
    assert wall_times(slots_on("2027-11-07", offering, first_taken), NEW_YORK) == [
        "01:00-0400",
        "01:00-0500",
        "01:30-0500",
    ]


def test_half_an_hour_missing_and_doubled_on_lord_howe():
    """Lord Howe Island moves by 30 minutes: 02:00-02:30 is missing on 3 October 2027, 01:30-02:00
    doubled on 4 April (IANA).
    """
    bram = teaches(4, LORD_HOWE, SUNDAY, 90, 180)
    assert wall_times(slots_on("2027-10-03", HALF_HOURS, bram), LORD_HOWE) == [
        "01:30+1030",
        "02:30+1100",
    ]
    assert wall_times(slots_on("2027-04-04", HALF_HOURS, bram), LORD_HOWE) == [
        "01:30+1100",
        "01:30+1030",
        "02:00+1030",
        "02:30+1030",
    ]


def test_a_meeting_may_run_through_a_clock_change():
    """Elapsed time counts: 50 minutes from 01:30 on the short night of 14 March 2027 end at 03:20
    in New York (IANA).
    """
    wren = teaches(2, NEW_YORK, SUNDAY, 90, 240)
    found = slots_on("2027-03-14", OfferingRules(50, 10, Grid.WINDOW, 60), wren)
    assert wall_times(found, NEW_YORK) == ["01:30-0500"]
    assert found[0].ends_at == utc("2027-03-14T07:20")


def test_minors_night():
    """Posy, 10, in Sydney: Saturday 20:00 in Dublin is their Sunday 07:00 and refused in their
    local time; 09:00 (20:00) is offered.
    """
    ilse = teaches(1, DUBLIN, SATURDAY, 540, 1260)
    hour = OfferingRules(60, 10, Grid.CLOCK, 30)
    with pytest.raises(Refused) as refusal:
        check_start(utc("2027-02-06T20:00"), hour, ilse, POSY, Policy(), utc("2027-02-01T09:00"))
    assert refusal.value.code == "minor-hours"
    assert refusal.value.data == {"local_start": "2027-02-07T07:00:00+11:00", "time_zone": SYDNEY}
    assert "07:00 on Sunday 7 February 2027 (Sydney)" in refusal.value.detail
    assert wall_times(slots_on("2027-02-06", hour, ilse, POSY), SYDNEY) == ["20:00+1100"]
    assert wall_times(slots_on("2027-02-06", hour, ilse, POSY), DUBLIN) == ["09:00+0000"]


def test_changeover_packs_a_chain():
    """30 minutes and 5 of changeover from 15:30: 15:30, 16:05, 16:40 and on (a harp teacher's
    published afternoon, 15:30-20:30).
    """
    ilse = teaches(1, DUBLIN, SATURDAY, 930, 1230)
    offering = OfferingRules(30, changeover_minutes(Policy(), 30), Grid.WINDOW, 35)
    starts = [time[:5] for time in wall_times(slots_on("2027-02-06", offering, ilse), DUBLIN)]
    assert starts == ["15:30", "16:05", "16:40", "17:15", "17:50", "18:25", "19:00", "19:35"]


def test_a_longer_lesson_blocks_its_changeover_too():
    """45 minutes at 16:40 hold the instructor until 17:35: 10 minutes after, and a 30-minute lesson
    before ends by 16:35.
    """
    taken = Period(
        utc("2027-02-06T16:40"),
        utc("2027-02-06T16:40") + timedelta(minutes=45 + changeover_minutes(Policy(), 45)),
    )
    assert taken.ends_at == utc("2027-02-06T17:35")
    ilse = InstructorTime(1, DUBLIN, teaches(1, DUBLIN, SATURDAY, 930, 1230).teaching, (taken,))
    packed = wall_times(slots_on("2027-02-06", OfferingRules(30, 5, Grid.WINDOW, 35), ilse), DUBLIN)
    assert [time[:5] for time in packed] == ["15:30", "16:05", "17:50", "18:25", "19:00", "19:35"]
    every_five = wall_times(
        slots_on("2027-02-06", OfferingRules(30, 5, Grid.CLOCK, 5), ilse), DUBLIN
    )
    assert [time[:5] for time in every_five if "16:00" < time < "17:40"] == [
        "16:00",
        "16:05",
        "17:35",
    ]
