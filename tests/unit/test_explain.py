"""Why a start is not offered: all reasons, against the minute-by-minute walk, and what a student is
told of them.
"""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bookings.domain.errors import Refused
from bookings.domain.explain import explain_stretch, for_school
from bookings.domain.hours import TeachingTime, WeeklyWindow
from bookings.domain.policy import Policy
from bookings.domain.slots import (
    InstructorTime,
    OfferingRules,
    SlotRequest,
    StudentTime,
    explain_start,
    find_slots,
    for_student,
)
from bookings.domain.timeline import Period, rfc3339
from bookings.domain.vocabulary import Grid
from tests.unit import brute
from tests.unit.times import SOLVER_EXAMPLES, situations

NOW = datetime(2027, 3, 1, 9, 0, tzinfo=UTC)
LESSON = OfferingRules(25, 5, Grid.CLOCK, 30)
TEN = datetime(2027, 3, 3, 10, tzinfo=UTC)
MORNINGS = TeachingTime(
    tuple(WeeklyWindow(weekday, 540, 720, "Europe/Dublin") for weekday in range(7))
)


@settings(max_examples=SOLVER_EXAMPLES)
@given(situations(), st.data())
def test_every_rule_that_a_start_breaks_is_named(case, data):
    """A rejected start has each reason that the walk finds, in order, an offered one none."""
    offering, instructor, student, policy, now, since, until = case
    rules = brute.Rules(offering, instructor, student, policy, now, since, until)
    offered = {
        slot.starts_at
        for slot in find_slots(
            SlotRequest(offering, since, until), [instructor], student, policy, now
        )
    }
    tried = data.draw(
        st.lists(st.sampled_from(brute.minutes_between(since, until)), min_size=1, max_size=12)
    )
    for start in {
        *tried,
        *(at.replace(minute=at.minute // 5 * 5) for at in tried),
        *list(offered)[:6],
    }:
        if not since <= start < until:
            continue
        reasons = explain_start(start, offering, instructor, student, policy, now)
        assert list(dict.fromkeys(reason.code for reason in reasons)) == list(
            dict.fromkeys(rules.broken(start))
        )
        assert bool(reasons) is (start not in offered)
        for reason in reasons:
            limit = reason.numbers.get("limit_minutes")
            if limit is not None:
                would_be = reason.numbers["would_be_minutes"]
                assert would_be < limit if reason.code == "load-rest" else would_be > limit
        told = for_student(reasons)
        assert bool(told) is bool(reasons)
        assert not any(reason.is_private for reason in told)


def ilse(**fields) -> InstructorTime:
    """Ilse, who teaches from 09:00 to 12:00."""
    return InstructorTime(1, "Europe/Dublin", MORNINGS, **fields)


def test_staff_see_which_meeting_and_a_student_sees_not_free():
    """A meeting, another calendar's time and a run of lessons are three reasons with numbers, and
    one word to a student.
    """
    taught = Period(TEN - timedelta(minutes=60), TEN + timedelta(minutes=5))
    instructor = ilse(meetings=(taught,), busy=(Period(TEN, TEN + timedelta(minutes=10)),))
    reasons = explain_start(
        TEN, LESSON, instructor, StudentTime(1, "America/New_York"), Policy(), NOW
    )
    assert [(reason.rule, reason.code, reason.numbers["kind"]) for reason in reasons] == [
        ("not free", "taken", "meeting"),
        ("not free", "taken", "busy time"),
    ]
    assert reasons[0].sentence == (
        "A meeting is in the way: it begins at 09:00 on Wednesday 3 March 2027 (Dublin) and "
        "keeps the instructor until "
        "10:05 on Wednesday 3 March 2027 (Dublin)."
    )
    assert reasons[0].numbers["starts_at"] == "2027-03-03T09:00:00Z"
    (told,) = for_student(reasons)
    assert (told.rule, told.sentence, dict(told.numbers)) == (
        "not free",
        "That time is not free: choose another time.",
        {},
    )


def test_the_load_of_an_instructor_is_not_free_to_a_student():
    """What they have taught that day is their own: a student reads the same words as of a taken
    time.
    """
    taught = (Period(TEN - timedelta(minutes=120), TEN),)
    reasons = explain_start(
        TEN, LESSON, ilse(taught=taught), StudentTime(1, "America/New_York"), Policy(), NOW
    )
    assert [(reason.rule, reason.code) for reason in reasons] == [("run", "load-run")]
    (told,) = for_student(reasons)
    assert (told.rule, told.code, dict(told.numbers)) == ("not free", "taken", {})


def test_outside_their_hours_nothing_is_told_of_what_they_do():
    """A meeting at 20:00 is a reason to them; a student reads only that they do not teach then."""
    evening = TEN + timedelta(hours=10)
    reasons = explain_start(
        evening,
        LESSON,
        ilse(meetings=(Period(evening, evening + timedelta(hours=1)),)),
        StudentTime(1, "Europe/Dublin"),
        Policy(),
        NOW,
    )
    assert [reason.code for reason in reasons] == ["outside-hours", "taken"]
    assert [reason.code for reason in for_student(reasons)] == ["outside-hours"]


def test_a_day_is_cut_where_the_rules_change():
    """The morning window of 25-minute lessons in quarter hours; the grid is named only where
    nothing else stands against a start.
    """
    taught = (Period(TEN, TEN + timedelta(minutes=30)),)
    period = Period(TEN - timedelta(hours=2), TEN + timedelta(hours=3, minutes=5))
    found = explain_stretch(
        period, LESSON, ilse(meetings=taught), StudentTime(1, "Europe/Dublin"), Policy(), NOW
    )
    assert found[0].since == period.starts_at
    assert found[-1].until == period.ends_at
    assert all(before.until == after.since for before, after in pairwise(found))
    assert [
        (f"{each.since:%H:%M}", [reason.rule for reason in each.reasons]) for each in found
    ] == [
        ("08:00", ["teaching hours"]),
        ("09:00", []),
        ("09:15", ["start times"]),
        ("09:30", []),
        ("09:45", ["not free"]),
        ("10:30", []),
        ("10:45", ["start times"]),
        ("11:00", []),
        ("11:15", ["start times"]),
        ("11:30", []),
        ("11:45", ["teaching hours"]),
    ]


def test_each_rule_has_its_name_and_its_numbers():
    """An evening in Dublin that is a minor's night in Sydney, too soon, off the grid and over a
    meeting of their own.
    """
    posy = StudentTime(
        2,
        "Australia/Sydney",
        date(2034, 9, 1),
        (Period(NOW + timedelta(hours=11), NOW + timedelta(hours=12)),),
    )
    reasons = explain_start(
        NOW + timedelta(hours=11, minutes=5), LESSON, ilse(), posy, Policy(), NOW
    )
    assert [(reason.rule, reason.code) for reason in reasons] == [
        ("lead time", "too-soon"),
        ("teaching hours", "outside-hours"),
        ("start times", "off-grid"),
        ("the student's meetings", "own-clash"),
        ("a minor's hours", "minor-hours"),
    ]
    assert reasons[0].numbers["lead_time_minutes"] == 720
    assert reasons[2].numbers == {"step_minutes": 30}
    assert reasons[4].numbers["local_start"] == "2027-03-02T07:05:00+11:00"
    assert for_student(reasons) == reasons


def test_a_start_off_the_cells_has_one_reason_and_a_naive_one_none():
    """10:02 is judged no further; without an offset nothing can be judged."""
    (reason,) = explain_start(
        TEN + timedelta(minutes=2), LESSON, ilse(), StudentTime(1, "Europe/Dublin"), Policy(), NOW
    )
    assert (reason.code, reason.sentence) == ("off-grid", "Choose a start on whole 5 minutes.")
    with pytest.raises(Refused) as refusal:
        explain_start(
            TEN.replace(tzinfo=None), LESSON, ilse(), StudentTime(1, "Europe/Dublin"), Policy(), NOW
        )
    assert refusal.value.code == "naive-time"


def test_a_students_busy_time_is_their_familys_business() -> None:
    """Each busy time is told to the family with its ends; to the school it is one "not free", and
    none beside their meetings.
    """
    times = tuple(
        Period(TEN + timedelta(minutes=m), TEN + timedelta(minutes=m + 5)) for m in (0, 10)
    )
    noor = StudentTime(1, "Europe/Dublin", busy=times)
    reasons = explain_start(TEN, LESSON, ilse(), noor, Policy(), NOW)
    assert for_student(reasons) == reasons
    assert [reason.numbers["starts_at"] for reason in reasons] == [
        rfc3339(time.starts_at) for time in times
    ]
    (told,) = for_school(reasons)
    assert (told.rule, told.code, told.numbers) == ("the student's time", "own-clash", {})
    booked = explain_start(TEN, LESSON, ilse(), replace(noor, meetings=times[:1]), Policy(), NOW)
    assert [reason.rule for reason in for_school(booked)] == ["the student's meetings"]
