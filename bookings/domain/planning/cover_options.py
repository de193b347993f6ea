"""Who could take which lesson, before anything is weighed: the columns of a cover's model.

A lesson to be covered is the first link of a chain. A substitute's own lesson that lies over it is
the second, and one that lies over the second where that goes is the third and last.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from bookings.domain.planning.cover import CoverProblem, Lesson, Substitute, Uncovered
from bookings.domain.planning.model import Model
from bookings.domain.timeline import Period

FIRST, SECOND, LAST = 1, 2, 3


@dataclass(slots=True)
class Taking:
    """A lesson and who could take it, with a column for each link of a chain that it could be."""

    lesson: Lesson
    by: Substitute
    is_outside: bool
    in_the_way: tuple[Lesson, ...]
    """The taker's own lessons that lie over this one."""
    columns: dict[int, int] = field(default_factory=dict)
    needs: int | None = None
    """The column that is 1 where the lesson is beyond the taker's load; None where their yes is
    asked for or given in any case.
    """

    @property
    def is_agreed(self) -> bool:
        return self.lesson.id in self.by.says_yes


def takings(problem: CoverProblem, model: Model) -> list[Taking]:
    """Every taking that can be part of a plan, its columns made."""
    links: dict[int, list[Taking]] = {FIRST: list(_possible(problem.lessons, problem))}
    for link in (SECOND, LAST):
        own = _in_the_way(links[link - 1])
        links[link] = list(_possible(own, problem))
    links[LAST] = [one for one in links[LAST] if not one.in_the_way]
    for link in (SECOND, FIRST):
        movable = {one.lesson.id for after in range(link + 1, LAST + 1) for one in links[after]}
        links[link] = [
            one for one in links[link] if all(lesson.id in movable for lesson in one.in_the_way)
        ]
    found: dict[tuple[int, int], Taking] = {}
    for link, those in links.items():
        for one in those:
            known = found.setdefault((one.lesson.id, one.by.instructor_id), one)
            known.columns[link] = model.binary()
    for taking in found.values():
        if not taking.is_outside and not taking.is_agreed:
            taking.needs = model.binary()
    return list(found.values())


def why_uncovered(lesson: Lesson, problem: CoverProblem, those: Iterable[Taking]) -> Uncovered:
    """Why nobody takes the lesson, `those` being the takings that could be part of a plan."""
    able = [one for one in problem.substitutes if one.may_teach(lesson)]
    if not able:
        return Uncovered.NOT_TAUGHT
    if all(lesson.id in one.says_no for one in able):
        return Uncovered.SAID_NO
    if all(taking.lesson.id != lesson.id for taking in those):
        return Uncovered.NOT_FREE
    return Uncovered.NEEDED


def _in_the_way(those: Iterable[Taking]) -> list[Lesson]:
    found = {own.id: own for taking in those for own in taking.in_the_way}
    return list(found.values())


def _possible(lessons: Iterable[Lesson], problem: CoverProblem) -> Iterator[Taking]:
    """Who teaches each lesson and has nothing else then but lessons that may change hands."""
    own = {
        one.instructor_id: [(lesson, lesson.held) for lesson in one.lessons]
        for one in problem.substitutes
    }
    for lesson in lessons:
        taught, held = lesson.taught, lesson.held
        for one in problem.substitutes:
            if (
                lesson.id not in one.says_no
                and lesson not in one.lessons
                and one.may_teach(lesson)
                and not _overlaps(taught, one.busy)
                and not _overlaps(held, one.meetings)
            ):
                over = (other for other, time in own[one.instructor_id] if time.overlaps(held))
                taking = Taking(lesson, one, not _is_within(taught, one.hours), tuple(over))
                if not (problem.only_plain and taking.is_outside and not taking.is_agreed):
                    yield taking


def _overlaps(period: Period, others: Iterable[Period]) -> bool:
    return any(period.overlaps(other) for other in others)


def _is_within(period: Period, hours: Iterable[Period]) -> bool:
    """Whether the hours hold the whole period; hours that touch are one stretch."""
    covered_until = period.starts_at
    for one in sorted(hours, key=lambda one: one.starts_at):
        if one.starts_at <= covered_until < one.ends_at:
            covered_until = one.ends_at
    return covered_until >= period.ends_at
