"""A weekly place: one weekday and wall time of the instructor's clock through a whole term.

Every date is judged by the rules of a single start (`check_start`), but for the horizon: a term is promised as a whole. The
lead time is asked of the first date only. Breaks and the instructor's days away are skipped, and dates that have begun are
past and no part of it; any other date that cannot be had fails, by name. A repeated hour means the first of its two instants
(RFC 5545 section 3.3.5).
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta

from bookings.domain.burden import burden
from bookings.domain.errors import Refused
from bookings.domain.hours import DAY_MINUTES, WEEKDAYS, resolve
from bookings.domain.load import TAUGHT_AROUND
from bookings.domain.policy import Policy, check_lead
from bookings.domain.slots import (
    InstructorTime,
    OfferingRules,
    SlotRequest,
    StudentTime,
    check_start,
    find_slots,
)
from bookings.domain.terms import Shift, Term, shifts, term_dates
from bookings.domain.timeline import CELL_MINUTES, Period
from bookings.domain.zones import zone

_PAD = timedelta(days=2)  # zones reach from -12 to +14: a local date begins and ends that near


@dataclass(frozen=True, slots=True)
class WeeklyTime:
    """A weekday (0 = Monday) and a minute of the day (0-1439) on the instructor's wall clock; Refused("invalid") otherwise."""

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
    """A date the place can hold, and what its hour costs the student (0-20)."""

    on: date
    starts_at: datetime
    ends_at: datetime
    burden: int


@dataclass(frozen=True, slots=True)
class FailedDate:
    """A date the place cannot hold: the code and the sentence of the first rule against it."""

    on: date
    code: str
    detail: str


@dataclass(frozen=True, slots=True)
class WeeklyOption:
    """One weekly time judged over a term. `away` are the dates on which the instructor is away; `shifts` are on the student's clock."""

    instructor_id: int
    at: WeeklyTime
    held: tuple[HeldDate, ...]
    failed: tuple[FailedDate, ...]
    away: tuple[date, ...]
    shifts: tuple[Shift, ...]

    @property
    def greatest_burden(self) -> int:
        return max((day.burden for day in self.held), default=0)

    @property
    def sum_of_burdens(self) -> int:
        return sum(day.burden for day in self.held)


@dataclass(frozen=True, slots=True)
class WeeklyRequest:
    """What is looked for. `without` are dates the family gives up knowingly: they are no part of the place.

    `earliest` and `latest` are minutes of the student's day that hold every one of the meetings. `after` is the weekly time at
    which another place has ended, changeover included: only the first start of the grid from then on is an option.
    """

    term: Term
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
    known: Collection[datetime] = (),
) -> WeeklyOption:
    """That weekly time, date by date. `known` are starts that `find_slots` has let through already: they are not judged again."""
    held: list[HeldDate] = []
    failed: list[FailedDate] = []
    away: list[date] = []
    is_first = True
    for on in term_dates(request.term, at.weekday):
        if on in request.without:
            continue
        wall = datetime.combine(on, time()) + timedelta(minutes=at.minute)
        try:
            starts_at = resolve(wall, 0, instructor.time_zone)
        except Refused as gap:
            failed.append(FailedDate(on, gap.code, gap.detail))
            continue
        if starts_at < now:
            continue
        if _is_away(instructor, starts_at):
            away.append(on)
            continue
        try:
            if is_first:
                is_first = False
                check_lead(starts_at, now, policy, student.time_zone)
            if starts_at not in known:
                check_start(
                    starts_at,
                    request.offering,
                    _near(instructor, starts_at),
                    student,
                    _for_a_term(policy),
                    starts_at,
                )
        except Refused as refusal:
            failed.append(FailedDate(on, refusal.code, refusal.detail))
            continue
        ends_at = starts_at + timedelta(minutes=request.offering.minutes)
        held.append(
            HeldDate(on, starts_at, ends_at, burden(Period(starts_at, ends_at), student.time_zone))
        )
    moved = shifts([day.starts_at for day in held], student.time_zone)
    return WeeklyOption(instructor.id, at, tuple(held), tuple(failed), tuple(away), moved)


def weekly_options(
    request: WeeklyRequest,
    instructors: Sequence[InstructorTime],
    student: StudentTime,
    policy: Policy,
    now: datetime,
    limit: int | None = None,
) -> list[WeeklyOption]:
    """Every weekly time of the offering's grid that holds at least one date, the best first, at most `limit`.

    Ranked: most dates held, least greatest burden, least sum of burdens, the earliest first meeting, the instructor's id.
    """
    options = [
        option
        for instructor in instructors
        for option in _options_with(request, instructor, student, policy, now)
        if option.held
    ]
    options.sort(key=_rank)
    return options[:limit]


def pairs(
    firsts: Sequence[WeeklyOption],
    seconds: Sequence[WeeklyOption],
    first_offering: OfferingRules,
    second_offering: OfferingRules,
) -> list[tuple[WeeklyOption, WeeklyOption]]:
    """Two siblings one after the other with one instructor: each first time and the start that follows it on the grid.

    Ranked as one: dates held by the two, the greater of their burdens, the sum of all, the earliest first meeting.
    """
    found = []
    for first in firsts:
        after = ends_at_minute(first.at, first_offering)
        following = [
            second
            for second in seconds
            if second.instructor_id == first.instructor_id
            and _follows(second.at, after, second_offering.step_minutes)
        ]
        if following:
            found.append((first, min(following, key=lambda second: second.at.minute)))
    return sorted(found, key=_rank_of_pair)


def _rank_of_pair(pair: tuple[WeeklyOption, WeeklyOption]) -> tuple[int, int, int, datetime, int]:
    first = pair[0]
    return (
        -sum(len(option.held) for option in pair),
        max(option.greatest_burden for option in pair),
        sum(option.sum_of_burdens for option in pair),
        first.held[0].starts_at,
        first.instructor_id,
    )


def ends_at_minute(at: WeeklyTime, offering: OfferingRules) -> WeeklyTime:
    """When a place at that weekly time has ended, changeover included; past midnight it is another weekday."""
    minute = at.minute + offering.held_cells * CELL_MINUTES
    return WeeklyTime((at.weekday + minute // DAY_MINUTES) % 7, minute % DAY_MINUTES)


def _follows(at: WeeklyTime, after: WeeklyTime, step_minutes: int) -> bool:
    """Whether it is the first start of a grid of that step at or after `after`, on the same day."""
    return at.weekday == after.weekday and after.minute <= at.minute < after.minute + step_minutes


def _rank(option: WeeklyOption) -> tuple[int, int, int, datetime, int]:
    return (
        -len(option.held),
        option.greatest_burden,
        option.sum_of_burdens,
        option.held[0].starts_at,
        option.instructor_id,
    )


def _options_with(
    request: WeeklyRequest,
    instructor: InstructorTime,
    student: StudentTime,
    policy: Policy,
    now: datetime,
) -> list[WeeklyOption]:
    known = _starts(replace(request, earliest=None, latest=None), instructor, student, policy)
    walls = (start.astimezone(zone(instructor.time_zone)) for start in known)
    times = {
        WeeklyTime(wall.weekday(), wall.hour * 60 + wall.minute) for wall in walls if not wall.fold
    }
    if request.after is not None:
        times = {at for at in times if _follows(at, request.after, request.offering.step_minutes)}
    options = [
        judge_weekly(request, at, instructor, student, policy, now, known=known) for at in times
    ]
    if request.earliest is None and request.latest is None:
        return options
    wanted = _starts(request, instructor, student, policy)
    return [option for option in options if all(day.starts_at in wanted for day in option.held)]


def _starts(
    request: WeeklyRequest, instructor: InstructorTime, student: StudentTime, policy: Policy
) -> frozenset[datetime]:
    since = datetime.combine(request.term.first_on, time(), UTC) - _PAD
    until = datetime.combine(request.term.last_on, time(), UTC) + _PAD
    asked = SlotRequest(request.offering, since, until, request.earliest, request.latest)
    return frozenset(
        slot.starts_at
        for slot in find_slots(asked, [instructor], student, _for_a_term(policy), since)
    )


def _for_a_term(policy: Policy) -> Policy:
    """The same rules without lead time and horizon, which a term asks in its own way."""
    return replace(policy, lead_time_minutes=0, horizon_days=2 * 366)


def _near(instructor: InstructorTime, instant: datetime) -> InstructorTime:
    """The same with meetings and busy time of as many days as a rule can ask for: a term has hundreds, and each date would look at all."""
    since, until = (
        instant - TAUGHT_AROUND - timedelta(days=1),
        instant + TAUGHT_AROUND + timedelta(days=1),
    )
    meetings, taught = (
        tuple(period for period in periods if since < period.starts_at < until)
        for periods in (instructor.meetings, instructor.taught)
    )
    busy = tuple(
        period for period in instructor.busy if since < period.ends_at and period.starts_at < until
    )
    return replace(instructor, meetings=meetings, taught=taught, busy=busy)


def _is_away(instructor: InstructorTime, instant: datetime) -> bool:
    days = (
        (away, instant.astimezone(zone(away.time_zone)).date()) for away in instructor.teaching.away
    )
    return any(away.first_on <= on <= away.last_on for away, on in days)
