"""Why a start is not offered: every rule against it, with its name, a sentence and its numbers."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import NamedTuple

from bookings.domain.errors import LOAD_CODES, Refused
from bookings.domain.grid import starts_on_grid
from bookings.domain.load import Bar, bars
from bookings.domain.parties import InstructorTime, OfferingRules, StudentTime
from bookings.domain.policy import Policy, check_horizon, check_lead, check_minor, is_minor
from bookings.domain.timeline import CELL, EPOCH, Horizon, Period, in_utc, rfc3339
from bookings.domain.vocabulary import Grid
from bookings.domain.wall import seconds, spoken
from bookings.domain.zones import zone

Number = int | str
_NOT_FREE = "not free"
_HOURS = "teaching hours"
_STUDENT_BUSY = "the student's busy time"
_LOOK = 3 * CELL


@dataclass(frozen=True, slots=True)
class Reason:
    """One rule against a start: its name, the refusal it is booked with, and for whom it may concern a sentence with numbers.

    `is_private` marks what tells of the instructor's other meetings: only she and an admin read `sentence` and `numbers`
    (minutes, days, instants as RFC 3339 text); see `for_student`.
    """

    rule: str
    refusal: Refused
    sentence: str
    numbers: Mapping[str, Number] = field(default_factory=dict)
    is_private: bool = False

    @property
    def code(self) -> str:
        """The refusal's code."""
        return self.refusal.code


def for_student(reasons: Iterable[Reason]) -> tuple[Reason, ...]:
    """The same for a student or guardian: all that is private becomes one "not free", without kind, name, length or number.

    Outside her teaching hours not even that is said: what an instructor does then is nobody's to know.
    """
    told: list[Reason] = []
    for reason in reasons:
        if not reason.is_private:
            told.append(reason)
        elif all(before.rule not in (_NOT_FREE, _HOURS) for before in told):
            told.append(_reason(_NOT_FREE, _taken_refusal()))
    return tuple(told)


def for_school(reasons: Iterable[Reason]) -> tuple[Reason, ...]:
    """The same for an instructor or admin: a student's busy time becomes "not free", once and without a time."""
    told: list[Reason] = []
    for reason in reasons:
        if reason.rule != _STUDENT_BUSY:
            told.append(reason)
        elif all(before.code != reason.code for before in told):
            told.append(_reason("the student's time", reason.refusal))
    return tuple(told)


def code_for_student(code: str) -> str:
    """A refusal's code for a student or guardian: load is "taken" to her, or refusals would measure the instructor's days and weeks."""
    return "taken" if code in LOAD_CODES else code


def explain_start(
    starts_at: datetime,
    offering: OfferingRules,
    instructor: InstructorTime,
    student: StudentTime,
    policy: Policy,
    now: datetime,
) -> tuple[Reason, ...]:
    """All that stands against a start, in the order of `check_start`; empty exactly where `find_slots` offers it.

    Each of her meetings or busy times in the way is a reason of its own. A start off the 5-minute cells has that one
    reason, and one over another of her meetings is not judged on load. Refused("naive-time").
    """
    return tuple(_reasons(in_utc(starts_at), offering, instructor, student, policy, now))


class Stretch(NamedTuple):
    """Starts in [since, until) that the same rules stand against; an empty tuple where one may be had."""

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
    """A period cut where the rules against a start change, as a student is told them; looked at every 15 minutes.

    That no start of the grid falls there is said only where nothing else stands against one.
    """
    found: list[Stretch] = []
    for i in range(-(-(period.ends_at - period.starts_at) // _LOOK)):
        start = period.starts_at + i * _LOOK
        told = for_student(_reasons(start, offering, instructor, student, policy, now))
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
    """Lets a start through that `find_slots` would offer; else raises the first refusal, in this order.

    "naive-time", "off-grid" (not on 5 minutes), "past", "too-soon", "too-far", "outside-hours", "off-grid" (not a start of
    the offering), "taken", "load-run", "load-day", "load-week", "load-rest", "own-clash", "minor-hours". What is said of a
    taken time and of her load tells nothing of her other meetings.
    """
    for reason in _reasons(in_utc(starts_at), offering, instructor, student, policy, now):
        raise reason.refusal


def _reasons(
    starts_at: datetime,
    rules: OfferingRules,
    instructor: InstructorTime,
    student: StudentTime,
    policy: Policy,
    now: datetime,
) -> Iterator[Reason]:
    if (starts_at - EPOCH) % CELL:
        yield _reason(
            "start times", Refused("off-grid", "Choose a start on whole 5 minutes."), step_minutes=5
        )
        return
    zone_there = student.time_zone
    yield from _asked(
        "lead time",
        lambda: check_lead(starts_at, now, policy, zone_there),
        lead_time_minutes=policy.lead_time_minutes,
    )
    yield from _asked(
        "horizon",
        lambda: check_horizon(starts_at, now, policy, zone_there),
        horizon_days=policy.horizon_days,
    )
    held = Horizon(starts_at, rules.held_cells)
    meeting = Period(starts_at, starts_at + rules.meeting_cells * CELL)
    cells = held.mask_inward(meeting)
    if cells & ~instructor.teachable(held):
        words = f"The instructor does not teach for {rules.minutes} minutes from then: choose one of the times offered."
        yield _reason(_HOURS, Refused("outside-hours", words), minutes=rules.minutes)
    if (
        not starts_on_grid(
            rules.grid, rules.step_minutes, instructor.time_zone, instructor.teaching, held
        )
        & 1
    ):
        yield _reason(
            "start times",
            Refused("off-grid", _grid_in_words(rules)),
            step_minutes=rules.step_minutes,
        )
    clashing = [other for other in instructor.meetings if held.mask_outward(other)]
    yield from (_taken("meeting", other, instructor) for other in clashing)
    yield from (
        _taken("busy time", other, instructor)
        for other in instructor.busy
        if cells & held.mask_outward(other)
    )
    if not clashing and starts_at not in instructor.allowed:
        yield from _load(seconds(starts_at), rules.minutes, instructor, policy, held)
    for other in student.meetings:
        if cells & held.mask_outward(other):
            words = "The student already has a lesson or meeting at that time: choose another time, or move that one first."
            yield _reason("the student's meetings", Refused("own-clash", words), **_ends(other))
    for other in student.busy:
        if cells & held.mask_outward(other):
            # What is raised may reach an admin: it names no time. The sentence and the numbers are for the family.
            refusal = Refused("own-clash", "The student is not free then: choose another time.")
            yield Reason(
                _STUDENT_BUSY,
                refusal,
                "The student's own calendar says that they are busy then: choose another time.",
                _ends(other),
            )
    if is_minor(student.adult_on, starts_at.astimezone(zone(zone_there)).date()):
        hours = {"opens": policy.minor_opens, "closes": policy.minor_closes}
        yield from _asked(
            "a minor's hours", lambda: check_minor(meeting, zone_there, policy), **hours
        )


def _load(
    start: int, minutes: int, instructor: InstructorTime, policy: Policy, held: Horizon
) -> Iterator[Reason]:
    """One reason for each load rule, with the numbers of the bar that goes furthest beyond its limit."""
    length = minutes * 60
    worst: dict[str, Bar] = {}
    for bar in bars(instructor.taught, instructor.time_zone, minutes, policy, held):
        if bar.since <= start < bar.until:
            beyond = abs(bar.would_be(start, length) - bar.limit)
            if bar.code not in worst or beyond > abs(
                worst[bar.code].would_be(start, length) - bar.limit
            ):
                worst[bar.code] = bar
    for code in (code for code in _LOAD_RULES if code in worst):
        rule, words = _LOAD_RULES[code]
        taught, limit, would_be = (
            -(-worst[code].taught // 60),
            worst[code].limit,
            worst[code].would_be(start, length),
        )
        numbers = {"limit_minutes": limit, "taught_minutes": taught, "would_be_minutes": would_be}
        refusal = Refused(code, _taken_refusal().detail)
        yield Reason(
            rule,
            refusal,
            words.format(taught=taught, would_be=would_be, limit=limit),
            numbers,
            is_private=True,
        )


_LOAD_RULES = {
    "load-run": (
        "run",
        "{taught} minutes in a row would become {would_be}: at most {limit} are taught before a rest.",
    ),
    "load-day": (
        "day",
        "{taught} minutes on that day would become {would_be}: at most {limit} are taught.",
    ),
    "load-week": (
        "week",
        "{taught} minutes in that week would become {would_be}: at most {limit} are taught.",
    ),
    "load-rest": (
        "night rest",
        "The rest between two days would be {would_be} minutes: at least {limit} are kept.",
    ),
}


def _taken(kind: str, other: Period, instructor: InstructorTime) -> Reason:
    begins, ends = (
        spoken(instant, instructor.time_zone) for instant in (other.starts_at, other.ends_at)
    )
    words = f"A {kind} is in the way: it begins at {begins} and keeps the instructor until {ends}."
    return Reason(
        _NOT_FREE, _taken_refusal(), words, {"kind": kind, **_ends(other)}, is_private=True
    )


def _taken_refusal() -> Refused:
    return Refused("taken", "That time is not free: choose another time.")


def _reason(rule: str, refusal: Refused, **numbers: Number) -> Reason:
    return Reason(rule, refusal, refusal.detail, {**numbers, **refusal.data})


def _asked(rule: str, check: Callable[[], None], **numbers: Number) -> Iterator[Reason]:
    try:
        check()
    except Refused as refusal:
        yield _reason(rule, refusal, **numbers)


def _ends(period: Period) -> dict[str, Number]:
    return {"starts_at": rfc3339(period.starts_at), "ends_at": rfc3339(period.ends_at)}


def _grid_in_words(rules: OfferingRules) -> str:
    if rules.grid is Grid.CLOCK:
        return f"Starts fall every {rules.step_minutes} minutes of the instructor's clock, counted from midnight: choose one of them."
    return f"Starts follow every {rules.step_minutes} minutes from the start of the teaching hours: choose one of them."
