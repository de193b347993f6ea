"""The practice plan in the form of a note: what a saved one amounts to, and the usual one."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from accounts.models import Student
from bookings.domain.practice import age_on, items_of, minutes_a_day, usual_items, warnings
from bookings.models import Assessment
from bookings.queries.practice import latest_items


def plan_told(note: Assessment | None, student: Student, now: datetime) -> dict[str, Any]:
    """The minutes a day of a saved plan, and what its author may want to think over.

    The context of `_note_practice.html`.
    """
    if note is None or not note.practice:
        return {"minutes": 0, "warnings": []}
    items = items_of(note.practice)
    age, before = age_on(student.adult_on, now.date()), latest_items(note.author, student, now=now)
    return {"minutes": minutes_a_day(items), "warnings": warnings(items, age=age, before=before)}


def with_usual_plan(typed: Mapping[str, str], student: Student, now: datetime) -> dict[str, str]:
    """What was typed, with the usual plan in its rows: that of the level typed or the student's."""
    level = typed.get("level", "")
    known = int(level) if level.isdecimal() and 1 <= int(level) <= 10 else student.level
    filled = dict(typed)
    for number, item in enumerate(usual_items(known, age_on(student.adult_on, now.date()))):
        filled |= {f"what_{number}": item.what, f"minutes_{number}": str(item.minutes)}
        if item.is_review:
            filled[f"review_{number}"] = "on"
    return filled
