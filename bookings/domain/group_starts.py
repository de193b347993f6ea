"""A start of a group meeting, judged as that of a lesson, and what only the instructor can allow.

Lead time, horizon and grid bind families alone: the school chooses the start. What takes the
instructor's time is always in the way. Hours, days away and load give way to the instructor's yes.
"""

from dataclasses import replace
from datetime import datetime

from bookings.domain.errors import LOAD_CODES, Refused
from bookings.domain.parties import InstructorTime, OfferingRules
from bookings.domain.policy import Policy
from bookings.domain.reasons import Reason, of_instructor, outside_hours

_MAY_GIVE_WAY = ("outside-hours", *LOAD_CODES)


def to_be_allowed(
    starts_at: datetime,
    offering: OfferingRules,
    instructor: InstructorTime,
    policy: Policy,
    name: str,
) -> list[Reason]:
    """The reasons to which only the instructor can say yes; none once they have.

    `name` is the instructor's. Refused("taken") where another meeting or a busy time is in the way.
    """
    reasons = list(of_instructor(starts_at, offering, instructor, policy))
    for reason in reasons:
        if reason.code not in _MAY_GIVE_WAY:
            raise Refused("taken", _in_the_way(reason, name))
    if starts_at in instructor.allowed:
        return []
    return [*outside_hours(starts_at, offering, instructor), *reasons]


def may_allow(
    reasons: list[Reason],
    starts_at: datetime,
    offering: OfferingRules,
    instructor: InstructorTime,
    name: str,
) -> Refused:
    """The refusal of `to_be_allowed` to anybody but the instructor, with every reason in words."""
    words = [
        _hours_in_words(starts_at, offering, instructor, name)
        if reason.code == "outside-hours"
        else reason.sentence
        for reason in reasons
    ]
    return Refused(
        "instructor-may-allow",
        f"{' '.join(words)} Only {name} can allow this time, under Times I allow. "
        "Or choose another time.",
        rules=[reason.code for reason in reasons],
    )


def _in_the_way(reason: Reason, name: str) -> str:
    if reason.numbers.get("kind") == "busy time":
        return f"{name} is busy then. Choose another time."
    return f"{name} has another meeting then, changeover included. Choose another time."


def _hours_in_words(
    starts_at: datetime, offering: OfferingRules, instructor: InstructorTime, name: str
) -> str:
    """Whether days away or the hours themselves are in the way."""
    at_home = replace(instructor, teaching=replace(instructor.teaching, away=()), stored=None)
    if any(outside_hours(starts_at, offering, at_home)):
        return f"This time is outside the hours that {name} teaches."
    return f"{name} is away then."
