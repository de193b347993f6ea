"""Who covers a day of twelve lessons, and who of sixty students is seen next: solved to the proof,
instances from fixed seeds.
"""

import random
from datetime import UTC, datetime, timedelta

from bookings.domain.planning.cover import CoverProblem, Lesson, Substitute, Teaches
from bookings.domain.planning.cover_plan import plan_cover
from bookings.domain.planning.who_next import DueStudent, FreeStart, WhoNextProblem
from bookings.domain.planning.who_next_plan import plan_who_next
from bookings.domain.policy import Policy
from bookings.domain.timeline import Period
from tests.bench.timing import median_of

DAY = datetime(2027, 3, 2, tzinfo=UTC)
ZONES = ("Europe/Dublin", "America/New_York", "Asia/Kolkata")


def a_day(seed: int = 12) -> CoverProblem:
    """Twelve lessons from 14:00, half an hour apart; six substitutes with lessons of their own
    that day and on three days around.
    """
    chance = random.Random(seed)
    ill = [_lesson(chance, number, 14 * 60 + 30 * number) for number in range(12)]
    return CoverProblem(tuple(ill), tuple(_substitute(chance, i) for i in range(1, 7)), Policy())


def _lesson(chance: random.Random, number: int, minute: int) -> Lesson:
    met = tuple(i for i in range(1, 7) if chance.random() < 0.25)
    starts_at = DAY + timedelta(minutes=minute)
    return Lesson(number, number, starts_at, 25, 5, chance.choice((1, 1, 2)), number % 8 + 1, met)


def _substitute(chance: random.Random, number: int) -> Substitute:
    starts = sorted(chance.sample(range(14 * 60, 20 * 60, 30), 5))
    own = tuple(_lesson(chance, 100 * number + i, minute) for i, minute in enumerate(starts))
    around = tuple(
        DAY + timedelta(days=day, hours=hour) for day in (-2, -1, 1) for hour in range(15, 20)
    )
    lowest = chance.randint(1, 3)
    opens = chance.choice((13, 15, 16))
    return Substitute(
        number,
        ZONES[number % 3],
        (Teaches(1, lowest, 8), Teaches(2, lowest + 1, 7)),
        (Period(DAY + timedelta(hours=opens), DAY + timedelta(hours=opens + 5)),),
        busy=(Period(DAY + timedelta(hours=16), DAY + timedelta(hours=17)),)
        if chance.random() < 0.5
        else (),
        taught=tuple(Period(at, at + timedelta(minutes=50)) for at in around),
        lessons=own,
    )


def a_fortnight(seed: int = 60, students: int = 60) -> WhoNextProblem:
    """Sixty students who are due, and an instructor's free half hours of two weeks, 09:00-12:00 and
    15:30-20:30 from Monday to Friday, among forty lessons that are booked.
    """
    chance = random.Random(seed)
    monday = DAY - timedelta(days=1)
    starts = [
        monday + timedelta(days=day, minutes=minute)
        for day in (*range(5), *range(7, 12))
        for minute in (*range(9 * 60, 12 * 60, 30), *range(15 * 60 + 30, 20 * 60 + 30, 30))
    ]
    booked = sorted(chance.sample(starts, 40))
    free = [start for start in starts if start not in booked]
    return WhoNextProblem(
        tuple(_due(chance, i, free) for i in range(students)),
        tuple(Period(at, at + timedelta(minutes=25)) for at in booked),
        "Europe/Dublin",
        Policy(),
    )


def _due(chance: random.Random, student_id: int, free: list[datetime]) -> DueStudent:
    """Comes on two to four weekdays, from some hour on; the later, the greater the burden."""
    weekdays = chance.sample(range(5), chance.randint(2, 4))
    earliest = chance.choice((9, 15, 16, 17))
    starts = tuple(
        FreeStart(start, max(0, start.hour - 18) + (1 if start.hour < 10 else 0))
        for start in free
        if start.weekday() in weekdays and start.hour >= earliest
    )
    unseen = None if chance.random() < 0.05 else chance.randint(30, 150)
    return DueStudent(student_id, unseen, 25, 5, starts)


def figures() -> tuple[dict[str, float], dict[str, str]]:
    """The figures of both, and what is decided in each."""
    day, fortnight = a_day(), a_fortnight()
    cover, who_next = plan_cover(day), plan_who_next(fortnight)
    if not (cover.is_proven and who_next.is_proven):
        raise AssertionError("a plan is not proven")
    return {
        "cover_ms": median_of(lambda: plan_cover(day), runs=5) * 1e3,
        "who_next_ms": median_of(lambda: plan_who_next(fortnight), runs=5) * 1e3,
    }, {
        "cover_ms": (
            "a day of 12 lessons and 6 substitutes with 5 own lessons each, load and chains of "
            f"three: {_told(cover.values)}; proven"
        ),
        "who_next_ms": (
            "60 students and an instructor's free half hours of two weeks, load and second and "
            f"third times: {_told(who_next.values)}; proven"
        ),
    }


def _told(values: dict[str, float]) -> str:
    return ", ".join(f"{name} {value:g}" for name, value in values.items())
