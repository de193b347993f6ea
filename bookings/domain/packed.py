"""The starts of Grid.PACKED: one after another, as if every one of them were taken."""

from collections import deque
from collections.abc import Sequence

from bookings.domain.packing import CELL_SECONDS, Lesson
from bookings.domain.timeline import stretches
from bookings.domain.wall import Seconds


def packed_starts(free: int, fitting: int, taught: Sequence[Seconds], lesson: Lesson) -> int:
    """The packed starts of one local day, as a mask of its cells.

    `free` are the cells in which the instructor teaches and has nothing yet, `fitting` those in
    which a lesson may begin, `taught` what stands already, in seconds after the first cell, rising.

    Starts are laid from the first cell of each free stretch: from the opening of the hours, from
    the end of a meeting's changeover, from the end of a busy time, from midnight. Each next one
    follows when the changeover of the one before is over. Where a lesson would be too much in a row
    with those laid and booked before it, it is laid when the rest after them is over. Where it
    would be too much with the meetings after it alone, nothing more is laid before them.

    So a start that is booked changes no other start, and starts stay where they are when a
    meeting is added that fills the place of one.
    """
    mask = at = 0
    row = _Row(taught, lesson)
    for first, _ in stretches(free):
        at = max(at, first)
        while fitting >> at & 1:
            begins = at * CELL_SECONDS
            before = row.before(begins)
            if before + lesson.length + row.after(begins) <= lesson.run:
                mask |= 1 << at
                row.add(begins, begins + lesson.length)
                at += lesson.held // CELL_SECONDS
            elif before:
                at = -(-row.rested_at // CELL_SECONDS)
            else:
                break
    return mask


class _Row:
    """The row of lessons, laid and taught, up to a start. The start only moves forward."""

    def __init__(self, taught: Sequence[Seconds], lesson: Lesson) -> None:
        self._ahead, self._lesson = deque(taught), lesson
        self._taught = 0
        self.rested_at = 0
        """From when on a start is in no row with it."""

    def before(self, begins: int) -> int:
        """The seconds taught in the row that a lesson from then on would join."""
        while self._ahead and self._ahead[0][0] < begins:
            self.add(*self._ahead.popleft())
        return self._taught if begins < self.rested_at else 0

    def after(self, begins: int) -> int:
        """The seconds taught in the row that would follow a lesson from then on."""
        taught, row_until = 0, begins + self._lesson.length + self._lesson.gap
        for first, past in self._ahead:
            if first >= row_until:
                break
            taught += past - first
            row_until = past + self._lesson.gap
        return taught

    def add(self, first: int, past: int) -> None:
        """Puts a lesson or meeting at the end of the row, or of a new one."""
        if first >= self.rested_at:
            self._taught = 0
        self._taught += past - first
        self.rested_at = past + self._lesson.gap
