"""The most lessons of a small day by trying every set of starts; shares no code with the product.

Times are seconds after the first cell of the day; what is given is read by attribute names only.
"""

CELL = 300


def most(day, lesson, *, among=None, with_start=None) -> int:
    """The most of the day's starts that can all be taken, `with_start` among them; 0 if none."""
    starts = starts_of(day) if among is None else among
    return max(
        (len(taken) for taken in sets(day, lesson, starts) if fits(taken, with_start)), default=0
    )


def starts_of(day) -> list[int]:
    """The starts of the day, rising."""
    return [cell * CELL for cell in range(day.starts.bit_length()) if day.starts >> cell & 1]


def fits(taken, with_start) -> bool:
    return with_start is None or with_start in taken


def sets(day, lesson, starts, taken=()):
    """Every set of starts that can be taken together, grown one start at a time."""
    if taken and not is_allowed(day, lesson, taken):
        return
    yield taken
    for position, start in enumerate(starts):
        if not taken or start >= taken[-1] + lesson.held:
            yield from sets(day, lesson, starts[position + 1 :], (*taken, start))


def is_allowed(day, lesson, taken) -> bool:
    """Whether these lessons keep the minutes of the day and of every row that holds one of them."""
    lessons = [(start, start + lesson.length) for start in taken]
    if sum(min(past, day.past) - first for first, past in lessons) > day.left:
        return False
    row, row_until, has_lesson = 0, None, False
    for first, past in sorted([*lessons, *day.taught]):
        if row_until is None or first >= row_until:
            row, has_lesson = 0, False
        row, row_until = row + past - first, past + lesson.gap
        has_lesson = has_lesson or (first, past) in lessons
        if has_lesson and row > lesson.run:
            return False
    return True
