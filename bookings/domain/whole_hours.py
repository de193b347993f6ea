"""Hours kept whole: which starts the lists leave out for an instructor who asks for it."""

from collections import defaultdict
from collections.abc import Callable, Iterable

from bookings.domain.openings import Openings

ENOUGH = 6
"""So many other starts there are in the instructor's local week before one is left out."""


def left_out(
    starts: Iterable[int], opening: Openings, burden_of: Callable[[int], int]
) -> frozenset[int]:
    """The cells of the starts that lists leave out. `starts` are all of these local weeks.

    A start that costs the day a lesson is left out where its week, from Monday on the instructor's
    clock, has six others that cost none and are no greater burden to the student. Those six stay,
    so a week is never emptied. No start is refused for it.
    """
    costly = list[int]()
    whole: dict[int, list[int]] = defaultdict(list)
    for i in starts:
        if opening.lost(i):
            costly.append(i)
        else:
            whole[opening.week_of(i)].append(burden_of(i))
    return frozenset(
        i
        for i in costly
        if sum(burden <= burden_of(i) for burden in whole[opening.week_of(i)]) >= ENOUGH
    )
