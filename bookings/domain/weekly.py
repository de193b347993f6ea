"""A weekly place: one weekday and wall time of the instructor's clock through a whole term.

Every date is judged by the rules of a single start (`check_start`), except for the horizon, since a
term is promised as a whole. The lead time applies to the first date only. Breaks, the instructor's
days away and dates that have begun are left out. Any other date that cannot be booked fails, with
its reason. A repeated hour means the first of its two instants (RFC 5545 section 3.3.5).
"""

from collections.abc import Container
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

from bookings.domain.errors import Refused
from bookings.domain.hours import DAY_MINUTES, WEEKDAYS
from bookings.domain.instants import first_instants, resolve
from bookings.domain.policy import Policy, check_lead
from bookings.domain.slots import (
    InstructorTime,
    OfferingRules,
    StudentTime,
    check_start,
)
from bookings.domain.terms import Shift, TermDates, shifts, term_dates
from bookings.domain.timeline import CELL_MINUTES, Period
from bookings.domain.weekly_costs import Hour
from bookings.domain.zones import zone


@dataclass(frozen=True, slots=True)
class WeeklyTime:
    """A weekday (0 = Monday) and a minute of the day (0-1439) on the instructor's wall clock.

    Refused("invalid") for a weekday or minute outside these.
    """

    weekday: int
    minute: int

    def __post_init__(self) -> None:
        if not 0 <= self.weekday < len(WEEKDAYS):
            raise Refused(
                "invalid", "Choose a weekday from 0 (Monday) to 6 (Sunday).", field="weekday"
            )
        if not 0 <= self.minute < DAY_MINUTES:
            raise Refused(
                "invalid",
                "Choose a time from 00:00 to 23:59; midnight is the 00:00 of the day that begins.",
                field="wall_at",
            )


@dataclass(frozen=True, slots=True)
class HeldDate:
    """A date that the place can hold, and the burden of its hour for the student (0-20, or
    NEVER).

    `words` are what the family says of the hour; empty where the curve alone counts.
    """

    on: date
    starts_at: datetime
    ends_at: datetime
    burden: int
    words: str = ""


@dataclass(frozen=True, slots=True)
class FailedDate:
    """A date that the place cannot hold: the code and the sentence of the first rule against it.

    Both are empty where no reasons were asked for.
    """

    on: date
    code: str
    detail: str


@dataclass(frozen=True, slots=True)
class WeeklyOption:
    """One weekly time, judged over a term.

    `away` are the dates on which the instructor is away; `shifts` are on the student's clock.
    """

    instructor_id: int
    at: WeeklyTime
    held: tuple[HeldDate, ...]
    failed: tuple[FailedDate, ...]
    away: tuple[date, ...]
    shifts: tuple[Shift, ...]

    @property
    def held_dates(self) -> int:
        return len(self.held)

    @property
    def first_at(self) -> datetime:
        """The first date held, of an option that holds any."""
        return self.held[0].starts_at

    @property
    def greatest_burden(self) -> int:
        return self.worst.cost

    @property
    def worst(self) -> Hour:
        """The most costly of its hours for the student."""
        return max((Hour(day.burden, day.words) for day in self.held), default=Hour(0))

    @property
    def sum_of_burdens(self) -> int:
        return sum(day.burden for day in self.held)


@dataclass(frozen=True, slots=True)
class WeeklyRequest:
    """The weekly times asked for.

    The family gives up the dates in `without`: they are no part of the place.

    `earliest` and `latest` are minutes of the student's day that hold each of the meetings. `after`
    is the weekly time at which another place ends, changeover included: only the first start of the
    grid from then on is an option.
    """

    term: TermDates
    offering: OfferingRules
    without: frozenset[date] = frozenset()
    earliest: int | None = None
    latest: int | None = None
    after: WeeklyTime | None = None


def judge_weekly(
    request: WeeklyRequest,
    at: WeeklyTime,
    instructor: InstructorTime,
    student: StudentTime,
    policy: Policy,
    now: datetime,
    *,
    known: Container[datetime] = (),
    with_reasons: bool = True,
) -> WeeklyOption:
    """One weekly time, date by date. `known` are starts of `find_slots`: all, without reasons."""
    held, failed = list[HeldDate](), list[FailedDate]()
    away, is_first = list[date](), True
    for on, instant in starts_of(request, at, instructor.time_zone):
        try:
            starts_at = instant or instant_on(on, at, instructor)
        except Refused as gap:
            failed.append(FailedDate(on, gap.code, gap.detail))
            continue
        if starts_at < now:
            continue
        if is_away(instructor, starts_at):
            away.append(on)
            continue
        try:
            if is_first:
                is_first = False
                check_lead(starts_at, now, policy, student.time_zone)
            if starts_at not in known:
                check = _check_date if with_reasons else _refuse_without_reason
                check(starts_at, request.offering, instructor, student, policy)
        except Refused as refusal:
            failed.append(FailedDate(on, refusal.code, refusal.detail))
        except _Unexplained:
            failed.append(FailedDate(on, "", ""))
        else:
            held.append(_held(on, starts_at, request.offering, student))
    moved = shifts([day.starts_at for day in held], student.time_zone)
    return WeeklyOption(instructor.id, at, tuple(held), tuple(failed), tuple(away), moved)


def dates_of(request: WeeklyRequest, at: WeeklyTime) -> list[date]:
    """The dates of that weekly time, rising, without breaks and those that are given up."""
    return [on for on in term_dates(request.term, at.weekday) if on not in request.without]


def starts_of(
    request: WeeklyRequest, at: WeeklyTime, time_zone: str
) -> list[tuple[date, datetime | None]]:
    """The same dates, each with its start; None where the clocks jump over it."""
    dates = dates_of(request, at)
    return list(zip(dates, first_instants(dates, at.minute, time_zone), strict=True))


class _Unexplained(Exception):
    """A date cannot be held, and nobody asks why."""


def _refuse_without_reason(*_: object) -> None:
    raise _Unexplained


def instant_on(on: date, at: WeeklyTime, instructor: InstructorTime) -> datetime:
    """The start on that date, UTC. Refused("clock-gap") where the clocks jump over it."""
    wall = datetime.combine(on, time()) + timedelta(minutes=at.minute)
    return resolve(wall, 0, instructor.time_zone)


def _check_date(
    starts_at: datetime,
    offering: OfferingRules,
    instructor: InstructorTime,
    student: StudentTime,
    policy: Policy,
) -> None:
    """Refuses as `check_start` does, but for lead time and horizon."""
    near = instructor.near(starts_at)
    check_start(starts_at, offering, near, student, term_policy(policy), starts_at)


def _held(on: date, starts_at: datetime, offering: OfferingRules, student: StudentTime) -> HeldDate:
    ends_at = starts_at + timedelta(minutes=offering.minutes)
    return HeldDate(on, starts_at, ends_at, *student.costs.of(Period(starts_at, ends_at)))


def ends_at_minute(at: WeeklyTime, offering: OfferingRules) -> WeeklyTime:
    """The weekly time at which a place ends, changeover included; past midnight it is on the next
    weekday.
    """
    minute = at.minute + offering.held_cells * CELL_MINUTES
    return WeeklyTime((at.weekday + minute // DAY_MINUTES) % 7, minute % DAY_MINUTES)


def term_policy(policy: Policy) -> Policy:
    """The policy without lead time and horizon, which a term checks in its own way."""
    return replace(policy, lead_time_minutes=0, horizon_days=2 * 366)


def is_away(instructor: InstructorTime, instant: datetime) -> bool:
    """Whether the instant lies on one of the instructor's days away."""
    return any(
        away.covers(instant.astimezone(zone(away.time_zone))) for away in instructor.teaching.away
    )
