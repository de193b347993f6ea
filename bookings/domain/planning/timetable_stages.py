"""The objectives of a timetable's model, each with the range of its values."""

from collections import defaultdict
from collections.abc import Mapping
from itertools import pairwise

from bookings.domain.planning.model import Stage
from bookings.domain.planning.timetable_draft import TimetableDraft
from bookings.domain.planning.timetable_table import hours_touched


def stages_of(draft: TimetableDraft) -> list[Stage]:
    """The seven stages in their order. Ranges are simple bounds: nobody has more than one place,
    and nobody's place is dearer or touches more hours than their worst one.
    """
    changed = draft.changed
    gone, had = draft.model.low[changed], draft.model.high[changed]
    levels = [0, *draft.reached]
    return [
        _most("placed", {x: student_id for (student_id, _), x in draft.has.items()}),
        Stage("changed", [(changed, 1)], known_bound=gone, worst=had),
        _most(
            "regular",
            {
                x: student_id
                for (student_id, place), x in draft.has.items()
                if draft.students[student_id].regular == place.instructor_id
            },
        ),
        _most("siblings", {a: frozenset(key[:2]) for key, a in draft.follows.items()}),
        Stage(
            "greatest",
            [(draft.reached[level], level - below) for below, level in pairwise(levels)],
            known_bound=0,
            worst=levels[-1],
        ),
        Stage(
            "sum",
            list(draft.burdens.items()),
            known_bound=0,
            worst=_sum_of_worst(draft, draft.burdens),
        ),
        Stage(
            "capacity",
            [(touched, 1) for touched in draft.touched.values()],
            known_bound=0,
            worst=min(len(draft.touched), _sum_of_worst(draft, _hours(draft))),
        ),
    ]


def _most(name: str, columns: Mapping[int, object]) -> Stage:
    """As many as possible of these columns; of those with one owner at most one can be 1."""
    owners = set(columns.values())
    terms = [(column, 1) for column in columns]
    return Stage(name, terms, is_most=True, known_bound=len(owners), worst=0)


def _hours(draft: TimetableDraft) -> dict[int, int]:
    """How many clock hours each lesson would touch."""
    return {
        x: len(
            hours_touched(
                draft.instructors[place.instructor_id],
                place.minute,
                draft.students[student_id].minutes,
            )
        )
        for (student_id, place), x in draft.has.items()
    }


def _sum_of_worst(draft: TimetableDraft, numbers: Mapping[int, int]) -> int:
    """The sum over the students of the greatest number that any of their places has."""
    worst: dict[int, int] = defaultdict(int)
    for (student_id, _), x in draft.has.items():
        worst[student_id] = max(worst[student_id], numbers[x])
    return sum(worst.values())
