"""Lessons lost: the dynamic programme cold, beside every set of starts of the same window."""

from bookings.domain.packing import Day, Lesson, losses
from tests.bench.timing import median_of, paired

CELL = 300
WINDOW = 300  # minutes, such as 15:30-20:30
LESSON = Lesson(length=45 * 60, held=55 * 60, run=120 * 60, gap=15 * 60)
STEPS = (5, 15)
"""Minutes between the starts: as the calendars' cells, and as few as enumeration can be waited
for.
"""


def window(step: int) -> Day:
    """An empty day with one window of five hours, and the default load."""
    cells = range(0, (WINDOW * 60 - LESSON.length) // CELL + 1, step // 5)
    return Day(sum(1 << cell for cell in cells), 86_400, (), 6 * 3600)


def by_programme(day: Day) -> dict[int, int]:
    """What each start costs that costs any, computed anew."""
    return dict(losses.__wrapped__(day, LESSON))


def by_enumeration(day: Day) -> dict[int, int]:
    """The same by growing every set of starts and noting the largest that holds each start."""
    starts = [cell * CELL for cell in range(day.starts.bit_length()) if day.starts >> cell & 1]
    most = dict.fromkeys(starts, 0)

    def grow(taken: tuple[int, ...], row: int) -> None:
        for start in taken:
            most[start] = max(most[start], len(taken))
        for start in starts:
            if taken and start < taken[-1] + LESSON.held:
                continue
            in_a_row = bool(taken) and start < taken[-1] + LESSON.length + LESSON.gap
            longer = row + LESSON.length if in_a_row else LESSON.length
            if longer <= LESSON.run and (len(taken) + 1) * LESSON.length <= day.left:
                grow((*taken, start), longer)

    grow((), 0)
    best = max(most.values())
    return {start // CELL: best - count for start, count in most.items() if count < best}


def figures() -> tuple[dict[str, float], dict[str, str]]:
    """The figures of one window, and what is compared in each."""
    fine, coarse = (window(step) for step in STEPS)
    if by_programme(coarse) != by_enumeration(coarse) or by_programme(fine) != by_enumeration(fine):
        raise AssertionError("enumeration finds other lessons lost")
    both = paired(lambda: by_programme(fine), lambda: by_enumeration(fine), runs=9, times=20)
    return {
        "capacity_us": both.first * 1e6,
        "capacity_15_us": median_of(lambda: by_programme(coarse), runs=15, times=50) * 1e6,
        "capacity_vs_enumeration": both.ratio,
    }, {
        "capacity_us": (
            "lessons lost by every start of a five-hour window, 45 minutes and 10 of changeover, a "
            f"start every {STEPS[0]} minutes, 120 minutes in a row: nothing kept"
        ),
        "capacity_15_us": f"the same with a start every {STEPS[1]} minutes",
        "capacity_vs_enumeration": (
            "the same window by growing every set of starts "
            f"({both.second * 1e3:.1f} ms); lessons lost identical"
        ),
    }
