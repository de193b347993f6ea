"""Terms of invented students, each from a fixed seed: hours, lengths, instructors, siblings."""

import random
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from bookings.domain.burden import burden
from bookings.domain.planning.timetable import (
    Place,
    TermInstructor,
    TermStudent,
    TimetableProblem,
    Wish,
)
from bookings.domain.timeline import Period
from bookings.domain.zones import zone

DAY, STEP = 24 * 60, 15
OPENS, CLOSES = 15 * 60, 20 * 60 + 30
MONDAYS = tuple(datetime(2027, 1, 11) + timedelta(weeks=week) for week in range(12))
INSTRUCTORS = ("Europe/Dublin", "Europe/Dublin", "America/New_York")
STUDENT_ZONES = (
    "Europe/Dublin",
    "Europe/Dublin",
    "Europe/Athens",
    "Asia/Kolkata",
    "America/New_York",
    "America/Los_Angeles",
)


def term(students: int, instructors: int, seed: int, minutes: tuple[int, ...]) -> TimetableProblem:
    """A term of twelve weeks from 11 January 2027, with both clocks' changes.

    Each instructor teaches Monday to Friday 15:00-20:30 and may start every quarter of an hour. A
    third of the students had a place before, a fifth are siblings, a quarter accept dear hours.
    """
    source = random.Random(seed)
    zones = {number: INSTRUCTORS[number % len(INSTRUCTORS)] for number in range(instructors)}
    starts = tuple(
        day * DAY + minute for day in range(5) for minute in range(OPENS, CLOSES - 25, STEP)
    )
    people = tuple(
        TermInstructor(
            number, starts, 5, run_minutes=120, run_gap=15, day_minutes=300, week_minutes=1500
        )
        for number in range(instructors)
    )
    found: list[TermStudent] = []
    for number in range(students):
        elder = found[-1] if number % 10 == 1 else None
        found.append(_student(number, zones, starts, minutes, source, elder))
    return TimetableProblem(tuple(found), people)


def _student(
    number: int,
    zones: dict[int, str],
    starts: tuple[int, ...],
    lengths: tuple[int, ...],
    source: random.Random,
    elder: TermStudent | None,
) -> TermStudent:
    """A student; a sibling of the elder one has the same hours and instructors."""
    minutes = source.choice(lengths)
    if elder is not None:
        return replace(elder, id=number, previous=None)
    allowed = source.sample(sorted(zones), min(len(zones), source.randint(1, 2)))
    wishes: tuple[Wish, ...] = ()
    while not wishes:
        time_zone, hours = source.choice(STUDENT_ZONES), {}
        for weekday in source.sample(range(5), source.randint(2, 4)):
            opens = source.randint(7, 19)
            hours[weekday] = (opens * 60, (opens + source.randint(3, 6)) * 60)
        wishes = tuple(
            Wish(Place(instructor, minute), cost)
            for instructor in allowed
            for minute in starts
            if minute % DAY + minutes <= CLOSES
            for cost in _cost(minute, minutes, zones[instructor], time_zone, hours)
        )
    had = source.random() < 1 / 3 and bool(wishes)
    return TermStudent(
        number,
        minutes,
        wishes,
        regular=allowed[0],
        previous=source.choice(wishes).place if had else None,
        family=number // 10 if number % 10 == 0 else None,
        has_consent=source.random() < 1 / 4,
    )


def _cost(
    minute: int,
    minutes: int,
    instructor_zone: str,
    time_zone: str,
    hours: dict[int, tuple[int, int]],
) -> Iterator[int]:
    """The greatest burden of the weekly place over the term; nothing where a date is outside the
    student's hours, one hour of a changed clock aside.
    """
    greatest = 0
    for monday in MONDAYS:
        at = (monday + timedelta(minutes=minute)).replace(tzinfo=zone(instructor_zone))
        local = at.astimezone(zone(time_zone))
        begins = local.hour * 60 + local.minute
        opens, closes = hours.get(local.weekday(), (0, 0))
        if not (opens - 60 <= begins and begins + minutes <= closes + 60):
            return
        starts_at = at.astimezone(UTC)
        greatest = max(
            greatest, burden(Period(starts_at, starts_at + timedelta(minutes=minutes)), time_zone)
        )
    yield greatest
