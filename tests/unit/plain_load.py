"""The load of an instructor counted minute by minute, for lessons decided together.

It shares no rule with the product. Minutes count from any Monday on the instructor's own clock.
"""

from bookings.domain.policy import Policy

Span = tuple[int, int]
"""A start and a length, in minutes."""


def is_too_much(lesson: Span, others: list[Span], ahead: int, policy: Policy) -> bool:
    """Whether a lesson breaks a rule of load beside others; `ahead` are the hours by which the
    instructor's clock is before the one that the minutes are of.
    """
    mine, *taught = (
        set(range(start + ahead * 60, start + ahead * 60 + length))
        for start, length in (lesson, *others)
    )
    together = mine.union(*taught)
    if in_a_row(min(mine), together, policy.run_gap_minutes) > policy.run_minutes:
        return True
    for size, limit in ((1440, policy.day_minutes), (10080, policy.week_minutes)):
        for part in {minute // size for minute in mine}:
            if sum(minute // size == part for minute in together) > limit:
                return True
    return any(
        min(mine) // 1440 != min(other) // 1440
        and max(min(mine) - max(other), min(other) - max(mine)) - 1 < policy.night_rest_minutes
        for other in taught
    )


def in_a_row(start: int, taught: set[int], gap: int) -> int:
    """How many of the minutes are in a row with this one: no rest of `gap` between them."""
    found = {start}
    for step in (-1, 1):
        here, idle = start, 0
        while idle < gap:
            here += step
            idle = 0 if here in taught else idle + 1
            found |= {here} & taught
    return len(found)
