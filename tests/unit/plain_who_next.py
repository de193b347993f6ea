"""Who next by trying everything: every choice of starts, judged minute by minute."""

import random
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from itertools import pairwise

from bookings.domain.planning.who_next import MOST_DAYS, DueStudent, FreeStart, WhoNextProblem
from bookings.domain.policy import Policy
from bookings.domain.timeline import Period
from tests.unit.plain_load import is_too_much

MONDAY = datetime(2027, 3, 1, tzinfo=UTC)
TIGHT = Policy(run_minutes=60, day_minutes=80, week_minutes=110, night_rest_minutes=840)

Chosen = dict[int, FreeStart]
"""The start of each student who is reached."""


def at(minute: int) -> datetime:
    """So many minutes after the Monday began in UTC, which is Dublin's clock."""
    return MONDAY + timedelta(minutes=minute)


def minute(instant: datetime) -> int:
    return (instant - MONDAY) // timedelta(minutes=1)


def some_problem(chance: random.Random, most: int = 6) -> WhoNextProblem:
    """Up to `most` students with up to five starts each on three days, among booked lessons."""
    starts = [day * 1440 + m for day in range(3) for m in (600, 615, 630, 660, 690, 720, 1290)]
    booked = chance.sample([day * 1440 + m for day in range(3) for m in (560, 780)], 2)
    return WhoNextProblem(
        tuple(some_student(chance, i, starts) for i in range(chance.randint(1, most))),
        tuple(Period(at(m), at(m + 25)) for m in booked if chance.random() < 0.5),
        "Europe/Dublin",
        chance.choice((Policy(), TIGHT, TIGHT)),
    )


def some_student(chance: random.Random, student_id: int, starts: list[int]) -> DueStudent:
    minutes, changeover = chance.choice(((25, 5), (25, 5), (50, 10)))
    own = chance.sample(starts, chance.randint(0, 5))
    unseen = None if chance.random() < 0.1 else chance.randint(0, 100)
    free = tuple(FreeStart(at(m), chance.choice((0, 0, 1, 3, 8))) for m in own)
    return DueStudent(student_id, unseen, minutes, changeover, free)


def ways(students: list[DueStudent], asked: WhoNextProblem, chosen: Chosen) -> Iterator[Chosen]:
    """Every choice of starts that go together."""
    if not is_apart(chosen, asked):
        return
    if not students:
        if keeps_load(chosen, asked):
            yield chosen
        return
    one, *rest = students
    yield from ways(rest, asked, chosen)
    for start in one.starts:
        yield from ways(rest, asked, {**chosen, one.student_id: start})


def goes_together(chosen: Chosen, asked: WhoNextProblem) -> bool:
    return is_apart(chosen, asked) and keeps_load(chosen, asked)


def is_apart(chosen: Chosen, asked: WhoNextProblem) -> bool:
    """Whether each ends, changeover included, before the next begins."""
    lessons = [(minute(chosen[i].starts_at), one) for i, one in of_chosen(chosen, asked)]
    return all(
        start + one.minutes + one.changeover_minutes <= later
        for (start, one), (later, _) in pairwise(sorted(lessons, key=lambda lesson: lesson[0]))
    )


def keeps_load(chosen: Chosen, asked: WhoNextProblem) -> bool:
    taught = [(minute(one.starts_at), one.minutes) for one in asked.taught]
    lessons = [(minute(chosen[i].starts_at), one.minutes) for i, one in of_chosen(chosen, asked)]
    return not any(
        is_too_much(lesson, [*taught, *(o for o in lessons if o != lesson)], 0, asked.policy)
        for lesson in lessons
    )


def of_chosen(chosen: Chosen, asked: WhoNextProblem) -> list[tuple[int, DueStudent]]:
    return [(one.student_id, one) for one in asked.students if one.student_id in chosen]


def value(chosen: Chosen, asked: WhoNextProblem) -> tuple[float, ...]:
    days = {
        one.student_id: MOST_DAYS if one.unseen_days is None else one.unseen_days
        for one in asked.students
    }
    return -len(chosen), -sum(days[i] for i in chosen), sum(o.burden for o in chosen.values())
