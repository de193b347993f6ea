"""Covering by trying everything: every way to hand lessons over, judged minute by minute.

It shares no rule with the product: lessons are compared by minutes of an instructor's clock, which
differs from UTC by whole hours, and load is counted here.
"""

import random
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from itertools import combinations

from bookings.domain.planning.cover import CoverProblem, Lesson, Substitute, Teaches
from bookings.domain.policy import Policy
from bookings.domain.timeline import Period
from tests.unit.plain_load import is_too_much

MONDAY = datetime(2027, 3, 1, tzinfo=UTC)
ZONES = {"Europe/Dublin": 0, "Asia/Tokyo": 9, "America/New_York": -5}
"""Hours ahead of UTC in the week of MONDAY."""
TIGHT = Policy(run_minutes=60, day_minutes=80, week_minutes=110, night_rest_minutes=840)

QUIET = (900, 930, 930, 945, 960, 960, 990, 1380, 2340, 2370, 2400)
CROWDED = (915, 930, 930, 945)
"""Minutes after Monday began at which lessons begin: over two days, or nearly all at once."""

Ways = dict[int, int]
"""Which substitute has which lesson, of those that change hands."""


def at(minute: int) -> datetime:
    """So many minutes after the Monday began in UTC."""
    return MONDAY + timedelta(minutes=minute)


def minute(instant: datetime) -> int:
    return (instant - MONDAY) // timedelta(minutes=1)


class Plain:
    """One problem, with everything that could be done in it."""

    def __init__(self, problem: CoverProblem) -> None:
        self.problem = problem
        self.to_cover = {lesson.id: lesson for lesson in problem.lessons}
        self.owner = {own.id: one for one in problem.substitutes for own in one.lessons}
        own = {own.id: own for one in problem.substitutes for own in one.lessons}
        self.lessons = {**self.to_cover, **own}
        self.by_id = {one.instructor_id: one for one in problem.substitutes}

    def best(self) -> tuple[int, ...]:
        """The best value: covered (less is more, so negative), yeses, strangers, moves."""
        return min(self.value(ways) for ways in self.all_ways(list(self.lessons), {}))

    def all_ways(self, left: list[int], ways: Ways) -> Iterator[Ways]:
        """Every way in which nobody is in two places at once and every move has its need."""
        if not left:
            if self.depths(ways) is not None:
                yield ways
            return
        lesson, rest = self.lessons[left[0]], left[1:]
        yield from self.all_ways(rest, ways)
        for one in self.problem.substitutes:
            if one is not self.owner.get(lesson.id) and self.is_possible(lesson, one):
                others = [self.lessons[o] for o, by in ways.items() if by == one.instructor_id]
                if not any(clash(lesson, other) for other in others):
                    yield from self.all_ways(rest, {**ways, lesson.id: one.instructor_id})

    def is_possible(self, lesson: Lesson, one: Substitute) -> bool:
        begins, ends = minute(lesson.starts_at), minute(lesson.starts_at) + lesson.minutes
        meant = [t for t in one.teaches if t.offering_id == lesson.offering_id]
        held = range(begins, ends + lesson.changeover_minutes)
        return (
            lesson.id not in one.says_no
            and any(lesson.level in range(t.lowest_level, t.highest_level + 1) for t in meant)
            and not set(range(begins, ends)) & minutes_of(one.busy)
            and not set(held) & minutes_of(one.meetings)
        )

    def depths(self, ways: Ways) -> dict[int, int] | None:
        """How far down its chain each lesson is; None where a rule of chains is broken."""
        depth = dict.fromkeys((one for one in ways if one in self.to_cover), 1)
        moved = [one for one in ways if one not in self.to_cover]
        for own_id, owner in self.owner.items():
            if own_id not in ways and self.displacing(own_id, owner, ways):
                return None
        for _ in range(len(moved)):
            for one in moved:
                by = self.displacing(one, self.owner[one], ways)
                if by and all(other in depth for other in by):
                    depth[one] = 1 + max(depth[other] for other in by)
        return depth if len(depth) == len(ways) and max(depth.values(), default=0) <= 3 else None

    def displacing(self, own_id: int, owner: Substitute, ways: Ways) -> list[int]:
        """The lessons over this one that its own instructor takes."""
        own = self.lessons[own_id]
        return [
            other
            for other, by in ways.items()
            if by == owner.instructor_id and clash(self.lessons[other], own)
        ]

    def value(self, ways: Ways) -> tuple[int, ...]:
        yeses = sum(self.yeses(one, ways) for one in self.problem.substitutes)
        strangers = sum(by not in self.lessons[one].met for one, by in ways.items())
        covered = sum(one in self.to_cover for one in ways)
        return -covered, yeses, strangers, len(ways) - covered

    def yeses(self, one: Substitute, ways: Ways) -> int:
        """The fewest lessons that the substitute has to say yes to: those outside hours, and as
        many of the others as have to be left out for the rest to keep the load.
        """
        asked = [
            self.lessons[lesson_id]
            for lesson_id, by in ways.items()
            if by == one.instructor_id and lesson_id not in one.says_yes
        ]
        hours = minutes_of(one.hours)
        inside = [lesson for lesson in asked if not minutes_of((lesson.taught,)) - hours]
        kept = [own for own in one.lessons if own.id not in ways]
        fixed = [*((minute(p.starts_at), p.minutes) for p in one.taught), *map(span, kept)]
        for out in range(len(inside) + 1):
            for plain in combinations(inside, len(inside) - out):
                if not any(self.is_beyond(lesson, plain, fixed, one) for lesson in plain):
                    return len(asked) - len(inside) + out
        raise AssertionError("without a lesson no rule is broken")

    def is_beyond(
        self,
        lesson: Lesson,
        plain: tuple[Lesson, ...],
        fixed: list[tuple[int, int]],
        one: Substitute,
    ) -> bool:
        others = [*fixed, *(span(other) for other in plain if other is not lesson)]
        ahead = ZONES[one.time_zone]
        return is_too_much(span(lesson), others, ahead, self.problem.policy)


def span(lesson: Lesson) -> tuple[int, int]:
    """Start and length."""
    return minute(lesson.starts_at), lesson.minutes


def clash(one: Lesson, other: Lesson) -> bool:
    spans = [
        (minute(x.starts_at), minute(x.starts_at) + x.minutes + x.changeover_minutes)
        for x in (one, other)
    ]
    return spans[0][0] < spans[1][1] and spans[1][0] < spans[0][1]


def minutes_of(periods: tuple[Period, ...]) -> set[int]:
    return {m for p in periods for m in range(minute(p.starts_at), minute(p.ends_at))}


def some_problem(chance: random.Random, most: int) -> CoverProblem:
    """Up to `most` lessons, to be covered or a substitute's own, within a few hours of two days."""
    people = list(range(1, chance.randint(3, 5)))
    count = chance.randint(1, most)
    to_cover = chance.randint(1, max(count * 2 // 3, 1))
    starts = chance.choice((QUIET, CROWDED))
    lessons = [some_lesson(chance, i, people, starts) for i in range(count)]
    whose = {lesson.id: chance.choice(people) for lesson in lessons[to_cover:]}
    covered = without_clashes(lessons[:to_cover])
    policy = chance.choice((TIGHT, TIGHT, Policy()))
    substitutes = tuple(
        some_substitute(
            chance,
            one,
            tuple(without_clashes([own for own in lessons if whose.get(own.id) == one])),
            [lesson.id for lesson in covered],
        )
        for one in people
    )
    return CoverProblem(tuple(covered), substitutes, policy)


def some_lesson(
    chance: random.Random, lesson_id: int, people: list[int], starts: tuple[int, ...]
) -> Lesson:
    minutes, changeover = chance.choice(((25, 5), (25, 5), (50, 10)))
    met = tuple(one for one in people if chance.random() < 0.4)
    level, kind = chance.randint(1, 5), chance.choice((1, 1, 2))
    return Lesson(
        lesson_id, 50 + lesson_id, at(chance.choice(starts)), minutes, changeover, kind, level, met
    )


def some_substitute(
    chance: random.Random, instructor_id: int, own: tuple[Lesson, ...], to_cover: list[int]
) -> Substitute:
    fixed = tuple(
        Period(at(start), at(start + 25))
        for start in (870, 1050, 2370)
        if chance.random() < 0.3
        and not any(
            start < minute(o.starts_at) + 60 and minute(o.starts_at) < start + 30 for o in own
        )
    )
    busy = (Period(at(955), at(975)),) if chance.random() < 0.15 else ()
    opens, closes = chance.choice((840, 840, 930)), chance.choice((1080, 1440))
    hours = tuple(Period(at(day + opens), at(day + closes)) for day in (0, 1440))
    return Substitute(
        instructor_id,
        chance.choice(list(ZONES)),
        (Teaches(1, 1, chance.randint(3, 6)), Teaches(2, chance.randint(1, 4), 5)),
        hours,
        tuple(Period(one.starts_at, one.ends_at + timedelta(minutes=5)) for one in fixed),
        busy,
        fixed,
        own,
        tuple(one for one in to_cover if chance.random() < 0.15),
        tuple(one for one in to_cover if chance.random() < 0.1),
    )


def without_clashes(lessons: list[Lesson]) -> list[Lesson]:
    """The lessons that one instructor could have: of those that clash the first."""
    found: list[Lesson] = []
    for lesson in lessons:
        if not any(clash(lesson, other) for other in found):
            found.append(lesson)
    return found
