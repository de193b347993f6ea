"""Why a start is not offered: every rule against it, with its name, a sentence and its numbers."""

from collections.abc import Iterable
from datetime import datetime
from typing import NamedTuple

from bookings.domain.errors import LOAD_CODES
from bookings.domain.parties import InstructorTime, OfferingRules, StudentTime
from bookings.domain.policy import Policy
from bookings.domain.reasons import (
    HOURS,
    NOT_FREE,
    STUDENT_BUSY,
    Reason,
    reason_of,
    reasons_against,
    taken_refusal,
)
from bookings.domain.timeline import CELL, Period, in_utc

_LOOK = 3 * CELL


def for_student(reasons: Iterable[Reason]) -> tuple[Reason, ...]:
    """The reasons as a student or guardian may read them.

    All private ones become one "not free", without numbers.

    Outside teaching hours even that is left out: nobody else learns what an instructor does then.
    """
    told: list[Reason] = []
    for reason in reasons:
        if not reason.is_private:
            told.append(reason)
        elif all(before.rule not in (NOT_FREE, HOURS) for before in told):
            told.append(reason_of(NOT_FREE, taken_refusal()))
    return tuple(told)


def for_school(reasons: Iterable[Reason]) -> tuple[Reason, ...]:
    """The reasons as an instructor or admin may read them.

    A student's busy times become one "the student's time", without numbers.
    """
    told: list[Reason] = []
    for reason in reasons:
        if reason.rule != STUDENT_BUSY:
            told.append(reason)
        elif all(before.code != reason.code for before in told):
            told.append(reason_of("the student's time", reason.refusal))
    return tuple(told)


def code_for_student(code: str) -> str:
    """A refusal's code as a student or guardian may read it.

    Load reads as "taken". Otherwise refusals would measure the instructor's days and weeks.
    """
    return "taken" if code in LOAD_CODES else code


def explain_start(
    starts_at: datetime,
    offering: OfferingRules,
    instructor: InstructorTime,
    student: StudentTime,
    policy: Policy,
    now: datetime,
) -> tuple[Reason, ...]:
    """Every reason against a start, in the order of `check_start`.

    Empty exactly where `find_slots` offers the start.

    Each meeting or busy time in the way is a reason of its own. A start off the 5-minute cells has
    that reason alone. A start over another meeting of the instructor is not judged on load.
    Refused("naive-time").
    """
    return tuple(reasons_against(in_utc(starts_at), offering, instructor, student, policy, now))


class Stretch(NamedTuple):
    """Starts in [since, until) with the same reasons against them.

    Without reasons a start there may be booked.
    """

    since: datetime
    until: datetime
    reasons: tuple[Reason, ...]


def explain_stretch(
    period: Period,
    offering: OfferingRules,
    instructor: InstructorTime,
    student: StudentTime,
    policy: Policy,
    now: datetime,
) -> list[Stretch]:
    """The period, cut where the reasons that a student may read change.

    A start is judged every 15 minutes.

    "off-grid" is told only where nothing else stands against a start.
    """
    found: list[Stretch] = []
    for i in range(-(-(period.ends_at - period.starts_at) // _LOOK)):
        start = period.starts_at + i * _LOOK
        told = for_student(reasons_against(start, offering, instructor, student, policy, now))
        told = tuple(reason for reason in told if reason.code != "off-grid") or told
        since = start
        if found and _named(found[-1].reasons) == _named(told):
            since, _, told = found.pop()
        found.append(Stretch(since, min(start + _LOOK, period.ends_at), told))
    return found


def _named(reasons: Iterable[Reason]) -> list[tuple[str, str]]:
    """The lead time alone is two refusals: what has passed, and what is too soon."""
    return [(reason.rule, reason.code) for reason in reasons]


def check_start(
    starts_at: datetime,
    offering: OfferingRules,
    instructor: InstructorTime,
    student: StudentTime,
    policy: Policy,
    now: datetime,
) -> None:
    """Raises the first refusal against a start; returns where `find_slots` would offer it.

    In this order: "naive-time", "off-grid" (not on 5 minutes), "past", "too-soon", "too-far",
    "outside-hours", "off-grid" (not a start of the offering), "taken", "load-run", "load-day",
    "load-week", "load-rest", "own-clash", "minor-hours". The details of "taken" and of the load
    tell nothing of the instructor's other meetings.
    """
    for reason in reasons_against(in_utc(starts_at), offering, instructor, student, policy, now):
        raise reason.refusal
