"""The rules of a studio policy one by one: the sentence of each, its limits, and what a new version
changes.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from enum import Enum, StrEnum, auto

from bookings.domain.errors import Refused
from bookings.domain.policy import SHORT_MEETING_MINUTES, Policy, in_words
from bookings.domain.timeline import CELL_MINUTES
from bookings.domain.wall import clock

_DAY = 24 * 60
_OF_INSTRUCTORS = {
    "changeover_short_minutes",
    "changeover_long_minutes",
    "run_minutes",
    "run_gap_minutes",
    "day_minutes",
    "week_minutes",
    "night_rest_minutes",
}


class Unit(Enum):
    """What the number of a rule counts: minutes that are typed as hours, or as minutes; a time of
    the day in minutes; days; things.
    """

    HOURS = auto()
    MINUTES = auto()
    CLOCK = auto()
    DAYS = auto()
    COUNT = auto()


class Whom(StrEnum):
    """For whom a rule is, as the form groups them."""

    FAMILIES = "Families"
    MINORS = "Students under 18"
    INSTRUCTORS = "Instructors"


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule. `name` is the field of `Policy`; `sentence` has one gap for the value in words.

    `least` and `most` are both allowed. Only multiples of `step` are.
    """

    name: str
    label: str
    sentence: str
    unit: Unit
    least: int
    most: int
    step: int = 1

    @property
    def whom(self) -> Whom:
        """Those whom the rule is for."""
        if self.name.startswith("minor_"):
            return Whom.MINORS
        return Whom.INSTRUCTORS if self.name in _OF_INSTRUCTORS else Whom.FAMILIES

    def said(self, value: int) -> str:
        """The value in words: "12 hours", "08:00", "60 days", "2"."""
        if self.unit in (Unit.HOURS, Unit.MINUTES):
            return in_words(value)
        if self.unit is Unit.CLOCK:
            return clock(value)
        if self.unit is Unit.DAYS:
            return f"{value} day{'' if value == 1 else 's'}"
        return str(value)

    def in_full(self, policy: Policy) -> str:
        """The rule as this policy has it, in one sentence."""
        return self.sentence.format(self.said(getattr(policy, self.name)))


_H, _M, _C, _D, _N = Unit.HOURS, Unit.MINUTES, Unit.CLOCK, Unit.DAYS, Unit.COUNT
RULES = (
    Rule(
        "lead_time_minutes",
        "Shortest time ahead",
        "Families book at least {} ahead.",
        _H,
        0,
        30 * _DAY,
    ),
    Rule(
        "horizon_days", "Longest time ahead, in days", "Families book at most {} ahead.", _D, 1, 366
    ),
    Rule(
        "notice_minutes",
        "Cancellation deadline",
        "Families can cancel free of charge until {} before the start.",
        _H,
        0,
        30 * _DAY,
    ),
    Rule(
        "open_consultations",
        "Consultations booked at once",
        "Consultations that a student can have booked at once: {}.",
        _N,
        1,
        100,
    ),
    Rule(
        "make_ups_a_term",
        "Make-ups in a term",
        "Own absences that a family can make up in a term: {}.",
        _N,
        0,
        100,
    ),
    Rule(
        "make_up_use_by_days",
        "Days to use a make-up",
        "A make-up lesson can be used within {} of the missed lesson.",
        _D,
        1,
        730,
    ),
    Rule(
        "minor_opens",
        "Earliest start",
        "A student under 18 has no lesson before {} on their own clock.",
        _C,
        0,
        _DAY,
        CELL_MINUTES,
    ),
    Rule(
        "minor_closes",
        "Latest end",
        "A student under 18 has no lesson after {} on their own clock.",
        _C,
        0,
        _DAY,
        CELL_MINUTES,
    ),
    Rule(
        "changeover_short_minutes",
        f"Minutes free after {SHORT_MEETING_MINUTES} minutes or less",
        f"After a meeting of {SHORT_MEETING_MINUTES} minutes or less, an instructor has {{}} free.",
        _M,
        0,
        120,
        CELL_MINUTES,
    ),
    Rule(
        "changeover_long_minutes",
        "Minutes free after a longer meeting",
        "After a longer meeting, an instructor has {} free.",
        _M,
        0,
        120,
        CELL_MINUTES,
    ),
    Rule(
        "run_minutes", "Taught in a row", "An instructor teaches at most {} in a row.", _H, 5, _DAY
    ),
    Rule(
        "run_gap_minutes",
        "Rest that ends a row, in minutes",
        "A rest of {} or more ends such a row.",
        _M,
        0,
        240,
    ),
    Rule(
        "day_minutes", "Taught in a day", "An instructor teaches at most {} in a day.", _H, 5, _DAY
    ),
    Rule(
        "week_minutes",
        "Taught in a week",
        "An instructor teaches at most {} in a week.",
        _H,
        5,
        7 * _DAY,
    ),
    Rule(
        "night_rest_minutes",
        "Night rest",
        "An instructor has at least {} of rest between two days.",
        _H,
        0,
        _DAY,
    ),
)


def policy_in_full(policy: Policy) -> list[str]:
    """Every rule in one sentence, in the order of the page."""
    return [rule.in_full(policy) for rule in RULES]


def changes_in_words(old: Policy, new: Policy) -> Iterator[str]:
    """One sentence for each rule that differs, and what it has been until now."""
    for rule in RULES:
        before = getattr(old, rule.name)
        if before != getattr(new, rule.name):
            yield f"{rule.in_full(new)} Until now: {rule.said(before)}."


def check_in_force(in_force_from: datetime | None, now: datetime) -> None:
    """Refused("past") for rules that would begin before now; None stands for now."""
    if in_force_from is not None and in_force_from < now:
        raise Refused("past", "Choose a day from today on: rules never change afterwards.")


def check_policy(policy: Policy) -> None:
    """Refused("invalid") unless each rule lies within its limits and they leave time to book."""
    for rule in RULES:
        value = getattr(policy, rule.name)
        if not rule.least <= value <= rule.most:
            raise Refused(
                "invalid",
                f"Choose between {rule.said(rule.least)} and {rule.said(rule.most)}.",
                field=rule.name,
            )
        if value % rule.step:
            raise Refused(
                "invalid",
                f"Choose a multiple of {rule.step} minutes.",
                field=rule.name,
            )
    if policy.minor_opens >= policy.minor_closes:
        raise Refused(
            "invalid",
            "Students under 18 need hours: choose an end after the beginning.",
            field="minor_closes",
        )
    if policy.lead_time_minutes >= policy.horizon_days * _DAY:
        raise Refused(
            "invalid",
            "With these times ahead nothing could be booked: the shortest has to be less than the "
            "longest.",
            field="lead_time_minutes",
        )
