"""What an hour costs a student once more, the slow way: each minute is asked what its wall shows.

Imports nothing of the project but the other slow rules.
"""

from datetime import date

from tests.unit.brute import MINUTE, wall

WORDS = {"gladly": 0, "possible": 1, "only-if-nothing-else": 8, "never": 21}
CURVE = {**dict.fromkeys(range(9, 20), 0), 8: 1, 20: 1, 7: 3, 21: 3, 6: 8, 22: 8}


def cost_of(period, zone: str, adult_on: date | None, said) -> int:
    """The greatest cost of a period for a student, by what each minute shows on the wall."""
    costs, at = [], period.starts_at
    while at < period.ends_at:
        costs.append(cost_of_minute(*wall(at, zone), adult_on, said))
        at += MINUTE
    return max(costs)


def cost_of_minute(on: date, minute: int, adult_on: date | None, said) -> int:
    """The words replace the curve for an adult; the greater of both counts for a minor."""
    is_child = adult_on is not None and on < adult_on
    is_school_day = on.weekday() < 5 and any(
        term.first_on <= on <= term.last_on
        and not any(first <= on <= last for first, last in term.breaks)
        for term in said.terms
    )
    counts = [
        WORDS[row.wish.value]
        for row in said.windows
        if row.weekday == on.weekday() and row.opens <= minute < row.closes
    ]
    if is_child or not counts:
        counts.append(CURVE.get(minute // 60, 20))
    if said.school and is_school_day and said.school[0] <= minute < said.school[1]:
        counts.append(WORDS["never"])
    if said.is_presumed and is_child:
        born_in = adult_on.year - 18
        had_birthday = (on.month, on.day) >= (adult_on.month, adult_on.day)
        age = on.year - born_in if had_birthday else on.year - born_in - 1
        bedtime = 19 * 60 + 30 if age < 10 else 20 * 60 + 30 if age < 13 else 21 * 60
        in_school = age >= 5 and is_school_day and 8 * 60 <= minute < 15 * 60 + 30
        if in_school or minute >= bedtime:
            counts.append(8)
    return max(counts)
