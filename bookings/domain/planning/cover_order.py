"""In which order the handovers of a cover are written, and which of them wait for a yes."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain

from bookings.domain.planning.cover import Cover, CoverProblem, Handover

Rooms = Mapping[int, set[int]]
"""For each lesson that is taken, the lessons of its taker that leave to make room for it."""


@dataclass(frozen=True, slots=True)
class Step:
    """A handover. It `waits` for a yes of its own, or for that of another in its chain."""

    handover: Handover
    waits: bool


def steps(problem: CoverProblem, cover: Cover) -> list[Step]:
    """Every handover, each after those that make room for it."""
    rooms = _rooms(problem, cover.handovers)
    waiting = _waiting(cover.handovers, rooms)
    return [Step(one, one.lesson_id in waiting) for one in _in_order(cover.handovers, rooms)]


def _rooms(problem: CoverProblem, handovers: Sequence[Handover]) -> Rooms:
    own = {one.instructor_id: one.lessons for one in problem.substitutes}
    lessons = {one.id: one for one in chain(problem.lessons, *own.values())}
    leaving = {one.lesson_id for one in handovers}
    return {
        one.lesson_id: {
            other.id
            for other in own[one.instructor_id]
            if other.id in leaving and other.held.overlaps(lessons[one.lesson_id].held)
        }
        for one in handovers
    }


def _waiting(handovers: Sequence[Handover], rooms: Rooms) -> set[int]:
    """The lessons that wait: no lesson is taken before its taker has room, and none leaves only for
    lessons that wait.
    """
    waiting = {one.lesson_id for one in handovers if one.needs_yes}
    before: set[int] = set()
    while before != waiting:
        before = set(waiting)
        for one in handovers:
            leaves_for = {taken for taken, room in rooms.items() if one.lesson_id in room}
            has_no_room = not waiting.isdisjoint(rooms[one.lesson_id])
            has_no_need = bool(leaves_for) and leaves_for <= waiting
            if has_no_room or has_no_need:
                waiting.add(one.lesson_id)
    return waiting


def _in_order(handovers: Sequence[Handover], rooms: Rooms) -> Iterator[Handover]:
    """Chains are at most three long and never close, so that each round writes some."""
    left = list(handovers)
    while left:
        still = {one.lesson_id for one in left}
        free = [one for one in left if still.isdisjoint(rooms[one.lesson_id])]
        yield from free
        left = [one for one in left if one not in free]
