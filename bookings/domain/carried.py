"""Carried burden: what group meetings have cost a student so far, fading from term to term."""

from collections.abc import Iterable, Sequence
from datetime import date


def carried(burdens: Iterable[tuple[date, int]], terms: Sequence[date], on: date) -> int:
    """What a student carries on that date, whole and rounded down.

    `burdens` are (first day of the term, burden of that term), `terms` the first days of all terms.
    The burden of the term that runs counts whole, and half is lost at the start of each later one.
    """
    of_term = dict(burdens)
    total = 0
    for first_on in sorted(set(terms) | set(of_term)):
        if first_on <= on:
            total = total // 2 + of_term.get(first_on, 0)
    return total
