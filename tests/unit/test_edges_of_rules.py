"""Edges that random examples seldom meet: the exact limit, the exact gap, kept hours, and what each
refusal says to a person.
"""

from datetime import UTC, date, datetime, timedelta

import pytest

from bookings.domain.errors import Refused
from bookings.domain.hours import StoredHours, TeachingTime, WeeklyWindow, check_week, teachable
from bookings.domain.instants import resolve
from bookings.domain.load import bars
from bookings.domain.policy import Policy, check_allowance, check_horizon, check_lead
from bookings.domain.slots import (
    InstructorTime,
    OfferingRules,
    Slot,
    SlotRequest,
    StudentTime,
    find_slots,
)
from bookings.domain.timeline import Horizon, Period
from bookings.domain.vocabulary import Grid

NOW = datetime(2027, 3, 1, 9, 0, tzinfo=UTC)
DAY = datetime(2027, 3, 3, tzinfo=UTC)
ALWAYS = TeachingTime(
    tuple(WeeklyWindow(weekday, 0, 1440, "Europe/Dublin") for weekday in range(7))
)
NOOR = StudentTime(1, "Europe/Dublin")


def hours(count: float) -> datetime:
    """So many hours into Wednesday 3 March, UTC and Dublin's clock alike."""
    return DAY + timedelta(hours=count)


def ilse(*taught: tuple[float, int]) -> InstructorTime:
    """Ilse, who teaches at any hour, with meetings as (hour of Wednesday, minutes)."""
    meetings = tuple(
        Period(hours(hour), hours(hour) + timedelta(minutes=minutes)) for hour, minutes in taught
    )
    return InstructorTime(1, "Europe/Dublin", ALWAYS, meetings=meetings, taught=meetings)


def found(
    minutes: int,
    since: float,
    until: float,
    *instructors: InstructorTime,
    student: StudentTime = NOOR,
    **asked,
) -> list[Slot]:
    """The slots between two hours of Wednesday, on a grid of five minutes without changeover."""
    request = SlotRequest(
        OfferingRules(minutes, 0, Grid.CLOCK, 5), hours(since), hours(until), **asked
    )
    return find_slots(request, instructors, student, Policy(), NOW)


def test_a_meeting_as_long_as_the_limit_is_offered():
    """120 minutes in a row are allowed, and so is one meeting of 120 minutes; one of 125 is not."""
    assert found(120, 10, 11, ilse())
    assert not found(125, 10, 11, ilse())


def test_a_gap_of_exactly_the_rest_is_a_rest():
    """Two meetings 15 minutes apart are two runs: what joins the second is not counted with the
    first.
    """
    assert [slot.starts_at for slot in found(30, 12.25, 12.3, ilse((10, 60), (11.25, 60)))] == [
        hours(12.25)
    ]


def test_a_short_meeting_between_two_short_ones_is_offered():
    """25 minutes near 25 on either side are 75 in a row, far from 120; near 45 and 50 they are
    exactly 120; near 50 and 50 too many.
    """
    assert found(25, 10.5, 10.55, ilse((10, 25), (11, 25)))
    assert found(25, 10.75, 10.8, ilse((10, 45), (11.25, 50)))
    assert not found(25, 10.85, 10.9, ilse((10, 50), (11.5, 50)))


def test_no_meetings_bar_nothing():
    """An empty day has no stretch in which they rest."""
    assert list(bars((), "Europe/Dublin", 25, Policy(), Horizon(DAY, 288))) == []


def test_all_instructors_are_found_beside_each_other():
    """The second instructor's starts do not replace the first's."""
    second = InstructorTime(2, "Europe/Dublin", ALWAYS)
    assert [slot.instructor_id for slot in found(25, 10, 10.05, ilse(), second)] == [1, 2]


def test_hours_asked_for_and_own_meetings_hold_together():
    """A student's own meeting is not offered over, with and without an earliest hour, and for a
    minor too.
    """
    own = (Period(hours(10), hours(11)),)
    for student in (
        StudentTime(1, "Europe/Dublin", meetings=own),
        StudentTime(1, "Europe/Dublin", date(2034, 6, 1), own),
    ):
        for asked in ({}, {"earliest": 600, "latest": 720}):
            starts = [
                slot.starts_at for slot in found(25, 9.9, 11.1, ilse(), student=student, **asked)
            ]
            assert hours(11) in starts
            assert not [start for start in starts if hours(9.6) < start < hours(11)]
    minor = StudentTime(1, "Europe/Dublin", date(2034, 6, 1))
    assert not found(25, 6, 7, ilse(), student=minor, earliest=0, latest=600)


def test_with_no_assessment_no_instructor_is_preferred():
    """All points of continuity, as with the instructor who heard their last, and twenty fewer with
    another.
    """
    fits = {
        heard: found(
            25, 10, 10.05, ilse(), student=StudentTime(1, "Europe/Dublin", heard_by=heard)
        )[0].fit
        for heard in (None, 1, 2)
    }
    assert fits[None] == fits[1] == fits[2] + 20


def test_kept_hours_are_read_over_any_stretch_inside():
    """The same mask as worked out anew, and nothing where the stretch reaches beyond either end."""
    around = Horizon(DAY, 7 * 288)
    week = TeachingTime(
        (WeeklyWindow(2, 540, 720, "Europe/Dublin"), WeeklyWindow(4, 600, 660, "Asia/Kathmandu"))
    )
    kept = StoredHours(around, teachable(week, around))
    for first, cells in ((0, 7 * 288), (0, 200), (1, 7 * 288 - 1), (110, 300), (576, 288)):
        inside = Horizon(around.instant(first), cells)
        assert kept.over(inside) == teachable(week, inside)
    for first, cells in ((-1, 10), (1, 7 * 288), (7 * 288, 1)):
        assert kept.over(Horizon(around.instant(first), cells)) is None


@pytest.mark.parametrize(
    ("window", "code", "sentence"),
    [
        ((7, 540, 600), "invalid", "Choose a weekday from 0 (Monday) to 6 (Sunday)."),
        ((1, 541, 600), "invalid", "Tuesday 09:01-10:00: choose times on whole 5 minutes."),
        ((1, 1380, 1445), "invalid", "Tuesday 23:00-24:05: choose times from 00:00 to 24:00."),
        (
            (1, 600, 600),
            "end-before-start",
            "Tuesday 10:00-10:00: choose an end after the start; past midnight takes two windows.",
        ),
        (
            (0, 590, 660),
            "invalid",
            "Monday 09:00-10:00 and 09:50-11:00 overlap: join them or move one.",
        ),
    ],
)
def test_a_week_that_cannot_be_published_says_which_window_and_why(window, code, sentence):
    """The refusal names the window's place in the week as sent; windows that only touch are two."""
    monday = WeeklyWindow(0, 540, 600, "Europe/Dublin")
    check_week(
        [
            monday,
            WeeklyWindow(0, 600, 660, "Europe/Dublin"),
            WeeklyWindow(0, 480, 540, "Europe/Dublin"),
        ]
    )
    with pytest.raises(Refused) as refusal:
        check_week([monday, WeeklyWindow(*window, "Europe/Dublin")])
    assert (refusal.value.code, refusal.value.detail, refusal.value.data) == (
        code,
        sentence,
        {"position": 1},
    )


@pytest.mark.parametrize(
    ("act", "code", "sentence"),
    [
        (
            lambda: check_lead(NOW - timedelta(days=1), NOW, Policy()),
            "past",
            "Choose a time in the future.",
        ),
        (
            lambda: check_horizon(NOW + timedelta(days=61), NOW, Policy()),
            "too-far",
            (
                "Book at most 60 days ahead: the last time open now is 09:00 on Friday 30 April "
                "2027 (UTC)."
            ),
        ),
        (
            lambda: check_allowance(2, Policy()),
            "allowance-used",
            "2 consultations can be booked at once: take or cancel one, then book the next.",
        ),
        (
            lambda: SlotRequest(
                OfferingRules(25, 5, Grid.CLOCK, 30), NOW, NOW + timedelta(days=1), 600, 600
            ),
            "end-before-start",
            "Choose a latest time after the earliest one.",
        ),
        (
            lambda: resolve(datetime(2027, 3, 14, 2, 30), 0, "America/New_York"),
            "clock-gap",
            (
                "The clocks in New York jump over 2027-03-14 02:30: choose 2027-03-14 01:30 or "
                "2027-03-14 03:30."
            ),
        ),
        (
            lambda: resolve(datetime(1, 1, 1), 0, "Asia/Kathmandu"),
            "invalid",
            "Choose a date between the years 2 and 9998.",
        ),
    ],
)
def test_a_refusal_says_what_to_choose_instead(act, code, sentence):
    """Each sentence stands word for word, because people read it."""
    with pytest.raises(Refused) as refusal:
        act()
    assert (refusal.value.code, refusal.value.detail) == (code, sentence)
    assert refusal.value.data.get("time_zone") == (
        "America/New_York" if code == "clock-gap" else None
    )
