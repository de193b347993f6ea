"""Practice plans: items with minutes a day, the usual minutes by level, and what a plan warns of.

Nothing here is medical advice. A warning never stops an instructor.
"""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from bookings.domain.errors import Refused

MOST_ITEMS = 8
LONGEST_WHAT = 200
MOST_MINUTES = 240
"""Deliberate practice holds two to four hours a day over months (Ericsson and others 1993, from
memory)."""
LONG_SITTING = 120
"""Above two to three hours a day, practice is split into sittings (common practice)."""
FLOOR, FLOOR_OF_YOUNGEST = 15, 10
"""The least minutes a day; at ages 4 and 5, ten (common practice)."""
REVIEW_MINUTES = range(5, 11)
"""Minutes of reviewing an older piece after the main work (common practice)."""
STEEP_RISE = 60
"""Seven more hours a week came with a 15 % higher chance of worse pain (a study of 2018 in Medical
Problems of Performing Artists): one more hour a day.
"""
REST_AFTER, REST = 25, 5
"""Rest 5 minutes after 25 of playing (common practice)."""

_BY_LEVEL = {1: 30, 2: 30, 3: 40, 4: 40, 5: 45, 6: 60, 7: 60, 8: 75, 9: 90, 10: 90}
# Levels 3 to 10: minutes a day before exams of these grades, as a teacher publishes them. Levels 1
# and 2: what teachers ask of beginners and of children from 7 to 10.
_AN_ADULT_IS = 18


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticeItem:
    """One thing to practise each day. `is_review` says that it is an older piece."""

    what: str
    minutes: int
    is_review: bool = False

    def stored(self) -> dict[str, Any]:
        """As `Assessment.practice` holds it."""
        return asdict(self)


def items_of(stored: Sequence[Mapping[str, Any]]) -> list[PracticeItem]:
    """The items as `Assessment.practice` holds them."""
    return [
        PracticeItem(what=row["what"], minutes=row["minutes"], is_review=row["is_review"])
        for row in stored
    ]


def check_items(items: Sequence[PracticeItem]) -> None:
    """Refused("invalid") for more than 8 items, an empty or long one, or minutes outside 1-240."""
    if len(items) > MOST_ITEMS:
        raise Refused("invalid", f"A plan has at most {MOST_ITEMS} items.", field="practice")
    for item in items:
        if not item.what.strip() or len(item.what) > LONGEST_WHAT:
            raise Refused(
                "invalid",
                f"Say what to practise, in at most {LONGEST_WHAT} characters.",
                field="practice",
            )
        if not 1 <= item.minutes <= MOST_MINUTES:
            raise Refused(
                "invalid", f"Minutes a day run from 1 to {MOST_MINUTES}.", field="practice"
            )


def minutes_a_day(items: Sequence[PracticeItem]) -> int:
    """The minutes of all items together."""
    return sum(item.minutes for item in items)


def age_on(adult_on: date | None, on: date) -> int | None:
    """Whole years of age, counted back from the date of coming of age; None for a known adult.

    It takes coming of age to be at 18, so where the law sets another age it errs by the difference.
    """
    if adult_on is None or adult_on <= on:
        return None
    years = adult_on.year - on.year + ((adult_on.month, adult_on.day) > (on.month, on.day))
    return max(_AN_ADULT_IS - years, 0)


def floor_of(age: int | None) -> int:
    """The least minutes a day worth planning."""
    return FLOOR_OF_YOUNGEST if age is not None and age <= 5 else FLOOR


def usual_minutes(level: int, age: int | None) -> int:
    """Minutes a day that are usual at this level, and at ages 4 and 5 whatever the level."""
    return FLOOR_OF_YOUNGEST if age is not None and age <= 5 else _BY_LEVEL[level]


def usual_items(level: int, age: int | None) -> list[PracticeItem]:
    """A plan to start from: technique, the piece in hand, and an older piece last."""
    whole = usual_minutes(level, age)
    if whole < FLOOR:
        return [PracticeItem(what="The piece in hand", minutes=whole)]
    review = 5 if whole < 45 else 10
    technique = (whole - review) // 3 // 5 * 5
    return [
        PracticeItem(what="Technique and drills", minutes=technique),
        PracticeItem(what="The piece in hand", minutes=whole - review - technique),
        PracticeItem(what="An older piece, played through", minutes=review, is_review=True),
    ]


def warnings(
    items: Sequence[PracticeItem], *, age: int | None, before: Sequence[PracticeItem]
) -> list[str]:
    """What the instructor may want to think over, in sentences; `before` is the plan until now."""
    if not items:
        return []
    whole, was = minutes_a_day(items), minutes_a_day(before)
    review = sum(item.minutes for item in items if item.is_review)
    floor = floor_of(age)
    found = []
    if whole < floor:
        found.append(f"This is less than {floor} minutes a day.")
    if whole > MOST_MINUTES:
        found.append("This is more than 4 hours a day, which few players can keep up for long.")
    elif whole > LONG_SITTING:
        found.append("This is more than 2 hours a day. Spread it over several sittings.")
    if before and whole - was >= STEEP_RISE:
        found.append(f"This is {whole - was} minutes a day more than before. Raise it in steps.")
    if whole >= FLOOR and review not in REVIEW_MINUTES:
        found.append("Plan 5 to 10 minutes for reviewing an older piece after the main work.")
    return found
