"""The fit of a start: each factor alone, the sum, and the three that suit best."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookings.domain.fit import WEIGHTS, Factors, fit
from bookings.domain.hours import TeachingTime, WeeklyWindow
from bookings.domain.policy import Policy
from bookings.domain.slots import (
    InstructorTime,
    OfferingRules,
    Slot,
    SlotRequest,
    StudentTime,
    dated,
    find_slots,
    for_school,
)
from bookings.domain.suiting import best
from bookings.domain.vocabulary import Grid
from tests.unit.times import situations

NOW = datetime(2027, 3, 1, 9, 0, tzinfo=UTC)
LESSON = OfferingRules(25, 5, Grid.CLOCK, 5)
MORNING = TeachingTime(
    tuple(WeeklyWindow(weekday, 540, 660, "Europe/Dublin") for weekday in range(7))
)
ILSE, WREN = (
    InstructorTime(1, "Europe/Dublin", MORNING),
    InstructorTime(2, "Europe/Dublin", MORNING),
)
NOOR = StudentTime(1, "Europe/Dublin")
WEDNESDAY = datetime(2027, 3, 3, tzinfo=UTC)

factors = st.builds(
    Factors,
    burden=st.integers(0, 20),
    lost=st.integers(0, 4),
    continues=st.sampled_from((True, False, None)),
    days_ahead=st.integers(0, 400),
    horizon_days=st.integers(0, 400),
    has_regular=st.booleans(),
)


def test_the_weights_are_a_hundred_points():
    """The best start there is has fit 100, the worst 0."""
    assert sum(WEIGHTS) == 100
    assert fit(Factors(0, 0, True, 0, 60))[0] == 100
    assert fit(Factors(20, 2, False, 60, 60))[0] == 0


@given(factors, st.integers(0, 20))
def test_a_lesser_burden_never_lowers_the_fit(start, burden):
    """The student's hour alone gets better."""
    better = start._replace(burden=min(start.burden, burden))
    assert 0 <= fit(start)[0] <= fit(better)[0] <= 100


@given(factors, st.integers(0, 4))
def test_fewer_lessons_lost_never_lower_the_fit(start, lost):
    """The instructor's day alone gets better."""
    assert fit(start)[0] <= fit(start._replace(lost=min(start.lost, lost)))[0]


@given(factors)
def test_the_instructor_of_the_assessment_never_lowers_the_fit(start):
    """Continuity alone gets better."""
    assert (
        fit(start._replace(continues=False))[0]
        <= fit(start)[0]
        <= fit(start._replace(continues=True))[0]
    )


@given(factors, st.integers(0, 400))
def test_sooner_never_lowers_the_fit(start, days):
    """The wait alone gets shorter."""
    assert fit(start)[0] <= fit(start._replace(days_ahead=min(start.days_ahead, days)))[0]


@given(situations(), st.integers(0, 2880), st.integers(5, 600))
def test_the_fit_does_not_depend_on_the_stretch_searched(case, later, minutes):
    """A start has the same fit and reasons in a search of minutes as in one of days."""
    offering, instructor, student, policy, now, since, until = case
    whole = find_slots(SlotRequest(offering, since, until), [instructor], student, policy, now)
    first = since + timedelta(minutes=later)
    part = SlotRequest(offering, first, first + timedelta(minutes=minutes))
    assert find_slots(part, [instructor], student, policy, now) == [
        slot for slot in whole + found_past(case) if part.since <= slot.starts_at < part.until
    ]


def found_past(case):
    """What starts after the situation's own stretch."""
    offering, instructor, student, policy, now, _, until = case
    return find_slots(
        SlotRequest(offering, until, until + timedelta(days=3)),
        [instructor],
        student,
        policy,
        now,
    )


def test_a_start_that_costs_a_lesson_fits_less_well():
    """09:00-11:00 holds four lessons of 25 minutes and five between them, from 09:00 to 09:05 and
    every half hour on. 09:10 leaves room for three, and half of the points.
    """
    request = SlotRequest(LESSON, WEDNESDAY, WEDNESDAY + timedelta(days=1))
    slots = {
        f"{slot.starts_at:%H:%M}": slot for slot in find_slots(request, [ILSE], NOOR, Policy(), NOW)
    }
    lost = {start: slot.lost for start, slot in slots.items()}
    assert lost["09:00"] == lost["09:05"] == lost["09:30"] == lost["10:35"] == 0
    assert lost["09:10"] == lost["10:25"] == 1
    assert slots["09:00"].fit - slots["09:10"].fit == WEIGHTS.lost - WEIGHTS.lost // 2


def test_only_the_school_reads_what_a_start_costs():
    """A family reads what suits it; an instructor or admin also the lessons of the day."""
    request = SlotRequest(LESSON, WEDNESDAY, WEDNESDAY + timedelta(days=1))
    slot = find_slots(request, [ILSE], NOOR, Policy(), NOW)[0]
    assert not any("lesson" in reason for reason in slot.reasons)
    told = [for_school([slot._replace(lost=lost)])[0].reasons[1] for lost in (0, 1, 2, 4)]
    assert told == [
        "Costs no lesson that day.",
        "Would cost one lesson that day.",
        "Would cost two lessons that day.",
        "Would cost 4 lessons that day.",
    ]


@pytest.mark.parametrize(
    ("now", "starts_at", "time_zone", "said"),
    [
        ("2027-03-01T23:00Z", "2027-03-02T09:00Z", "Europe/Dublin", "Tomorrow."),
        ("2027-03-01T00:30Z", "2027-03-01T23:30Z", "Europe/Dublin", "Today."),
        ("2027-03-01T23:00Z", "2027-03-04T09:00Z", "Europe/Dublin", "In 3 days."),
        ("2027-03-01T09:00Z", "2027-03-04T23:00Z", "Europe/Dublin", "In 3 days."),
        # The same two instants: one date in New York, two in Kathmandu.
        ("2027-03-01T16:00Z", "2027-03-01T22:00Z", "America/New_York", "Today."),
        ("2027-03-01T16:00Z", "2027-03-01T22:00Z", "Asia/Kathmandu", "Tomorrow."),
        # 23 hours, over a night in which the clocks change.
        ("2027-03-27T23:30Z", "2027-03-28T22:30Z", "Europe/Dublin", "Tomorrow."),
    ],
)
def test_days_ahead_are_dates_on_the_reader_s_clock(now, starts_at, time_zone, said):
    """Nobody counts days in stretches of 24 hours. Source: common practice."""
    start = datetime.fromisoformat(starts_at)
    slot = Slot(start, start + timedelta(minutes=25), 1, 0, 90, ("An easy hour of the day.",))
    (told,) = dated([slot], datetime.fromisoformat(now), time_zone)
    assert told == slot._replace(reasons=("An easy hour of the day.", said))


def test_the_instructor_who_heard_the_student_comes_first():
    """Of two equal starts the one with the instructor of the latest released assessment is best,
    and says so.
    """
    request = SlotRequest(LESSON, WEDNESDAY, WEDNESDAY + timedelta(days=1))
    slots = find_slots(request, [ILSE, WREN], replace(NOOR, heard_by=2), Policy(), NOW)
    first = best(slots, NOOR.time_zone, 1)[0]
    assert (first.instructor_id, f"{first.starts_at:%H:%M}") == (2, "09:00")
    assert first.reasons == (
        "An easy hour of the day.",
        "With the instructor of the latest assessment.",
    )
    assert [slot.instructor_id for slot in best(slots, NOOR.time_zone)] == [
        2
    ]  # one part of one day
    assert best([], NOOR.time_zone) == []


def test_the_three_best_lie_on_three_days_where_they_fit_nearly_as_well():
    """Three half hours of one morning are no choice; a much worse hour on another day is chosen
    last.
    """

    def slot(day: int, hour: int, fit: int) -> Slot:
        start = WEDNESDAY.replace(hour=hour) + timedelta(days=day)
        return Slot(start, start + timedelta(minutes=25), 1, 0, fit, ())

    good = [slot(0, 15, 90), slot(0, 16, 90), slot(0, 17, 90), slot(1, 15, 80), slot(2, 15, 75)]
    assert best(good, NOOR.time_zone) == [good[0], good[3], good[4]]
    lonely = [*good[:3], slot(1, 9, 40)]
    assert best(lonely, NOOR.time_zone) == [good[0], good[2], lonely[3]]  # 17:00 is the evening


@pytest.mark.parametrize(
    ("start", "reasons"),
    [
        (
            Factors(0, 0, None, 0, 60),
            ("An easy hour of the day.",),
        ),
        (
            Factors(1, 5, True, 2, 60),
            (
                "A little early or late in the day.",
                "With the instructor of the latest assessment.",
            ),
        ),
        (Factors(3, 0, False, 1, 60), ("Early or late in the day.",)),
        (Factors(8, 0, False, 1, 60), ("Very early or very late.",)),
        (Factors(20, 0, False, 1, 60), ("At night.",)),
    ],
)
def test_reasons_are_sentences_that_name_no_other_meeting(start, reasons):
    """What a student reads of each factor, the weightiest first."""
    assert fit(start)[1][: len(reasons)] == reasons


@pytest.mark.parametrize(
    ("heard_by", "regular", "instructor", "reason"),
    [
        (1, 2, 2, "With the regular instructor."),
        (1, 2, 1, "Not with the regular instructor."),
        (None, 2, 2, "With the regular instructor."),
        (2, None, 2, "With the instructor of the latest assessment."),
        (2, None, 1, "Not with the instructor of the latest assessment."),
    ],
)
def test_continuity_follows_the_regular_instructor_before_the_latest_assessment(
    heard_by, regular, instructor, reason
):
    """The reason says which of the two it is, and points go to the same instructor."""
    request = SlotRequest(LESSON, WEDNESDAY, WEDNESDAY + timedelta(days=1))
    student = replace(NOOR, heard_by=heard_by, regular=regular)
    slots = find_slots(request, [ILSE, WREN], student, Policy(), NOW)
    first = {slot.instructor_id: slot for slot in reversed(slots)}
    assert reason in first[instructor].reasons
    assert best(slots, NOOR.time_zone, 1)[0].instructor_id == 2
