"""Finding slots: the door to the solver, from which all that a caller needs can be imported.

`find_slots` here and `explain_start` and `check_start` in domain.explain read one set of rules: a
start that the first offers is one that the others allow.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from bookings.domain.burden import burden
from bookings.domain.errors import Refused
from bookings.domain.explain import check_start, explain_start, for_student
from bookings.domain.fit import Factors, fit
from bookings.domain.grid import starts_on_grid
from bookings.domain.hours import DAY_MINUTES, Away, TeachingTime, teachable
from bookings.domain.load import barred, bars
from bookings.domain.parties import InstructorTime, OfferingRules, StudentTime
from bookings.domain.policy import Policy, daily, earliest_start, is_minor, latest_start, minor_time
from bookings.domain.reasons import Reason
from bookings.domain.timeline import CELL, CELL_MINUTES, Horizon, Period, bits, runs, stretches
from bookings.domain.zones import zone

__all__ = [
    "InstructorTime",
    "OfferingRules",
    "Reason",
    "Slot",
    "SlotRequest",
    "StudentTime",
    "check_start",
    "explain_start",
    "find_slots",
    "for_student",
]


@dataclass(frozen=True, slots=True)
class SlotRequest:
    """Starts in [since, until).

    `earliest` and `latest` are minutes of the student's local day; the whole meeting lies between
    them. `shortest_minutes` is the shortest offering of the school with its changeover: a shorter
    gap is stranded; None means this offering's own. With `nearest_to` the `limit` starts nearest to
    that instant are wanted, not the first. Refused: "naive-time"; "end-before-start" when until is
    not after since, or latest not after earliest.
    """

    offering: OfferingRules
    since: datetime
    until: datetime
    earliest: int | None = None
    latest: int | None = None
    limit: int | None = None
    shortest_minutes: int | None = None
    nearest_to: datetime | None = None

    def __post_init__(self) -> None:
        asked = Period(self.since, self.until)
        object.__setattr__(self, "since", asked.starts_at)
        object.__setattr__(self, "until", asked.ends_at)
        if self.first_minute >= self.past_minute:
            raise Refused("end-before-start", "Choose a latest time after the earliest one.")

    @property
    def first_minute(self) -> int:
        """The first minute of the student's day that a meeting may fill."""
        return 0 if self.earliest is None else self.earliest

    @property
    def past_minute(self) -> int:
        """The minute of the student's day by which a meeting has ended."""
        return DAY_MINUTES if self.latest is None else self.latest

    @property
    def shortest_cells(self) -> int:
        """Cells below which a gap is stranded."""
        return -(-(self.shortest_minutes or self.offering.held_minutes) // CELL_MINUTES)


@dataclass(frozen=True, slots=True)
class Slot:
    """A start that can be booked now.

    `burden` is what its hour costs the student (0-20), `fit` how well it suits (0-100), and
    `reasons` say why, in sentences.
    """

    starts_at: datetime
    ends_at: datetime
    instructor_id: int
    burden: int
    fit: int
    reasons: tuple[str, ...]


def find_slots(
    request: SlotRequest,
    instructors: Sequence[InstructorTime],
    student: StudentTime,
    policy: Policy,
    now: datetime,
) -> list[Slot]:
    """Every start that obeys every rule, by start and then instructor id, at most `limit`.

    Refused("unknown-zone").
    """
    rules = request.offering
    since = max(request.since, earliest_start(now, policy))
    # The latest start is included; `until` is not.
    past = min(request.until, latest_start(now, policy) + datetime.resolution)
    if past <= since:
        return []
    margin = request.shortest_cells * CELL  # so that a stranded gap at either end is seen whole
    horizon = Horizon.spanning(since - margin, past + rules.held_cells * CELL + margin)
    asked = horizon.between(horizon.index_from(since), horizon.index_from(past))
    welcome = _student_free(request, student, policy, horizon)
    gaps, found = dict[int, _Gaps](), list[tuple[int, int]]()
    for instructor in instructors:
        hours = instructor.teachable(horizon) & ~horizon.busy_mask(instructor.busy)
        unheld = horizon.full & ~horizon.busy_mask(instructor.meetings)
        starts = (
            asked
            & runs(welcome & hours, rules.meeting_cells)
            & runs(unheld, rules.held_cells)
            & starts_on_grid(
                rules.grid, rules.step_minutes, instructor.time_zone, instructor.teaching, horizon
            )
        )
        if starts:
            starts &= ~_resting(instructor, rules.minutes, policy, horizon)
            gaps[instructor.id] = _Gaps(hours & unheld, rules.held_cells, request.shortest_cells)
            found += [(i, instructor.id) for i in bits(starts)]
    chosen = _chosen(found, request, horizon)
    meetings = _meetings({i for i, _ in chosen}, rules, horizon)
    return _slots(chosen, meetings, gaps, student, policy, now)


def _chosen(
    found: list[tuple[int, int]], request: SlotRequest, horizon: Horizon
) -> list[tuple[int, int]]:
    """At most `limit` of these (cell, instructor id), sorted: the first, or the nearest."""
    if request.nearest_to is not None:
        wanted = (request.nearest_to - horizon.starts_at) / CELL
        found = sorted(found, key=lambda start: (abs(start[0] - wanted), *start))[: request.limit]
    return sorted(found)[: request.limit]


def _meetings(cells: set[int], rules: OfferingRules, horizon: Horizon) -> dict[int, Period]:
    """The meeting that starts in each cell, without its changeover."""
    return {i: Period(horizon.instant(i), horizon.instant(i + rules.meeting_cells)) for i in cells}


def _slots(
    chosen: list[tuple[int, int]],
    meetings: dict[int, Period],
    gaps: dict[int, "_Gaps"],
    student: StudentTime,
    policy: Policy,
    now: datetime,
) -> list[Slot]:
    """A slot for each (cell, instructor id), with its burden and its fit."""
    costs = {i: burden(meeting, student.time_zone) for i, meeting in meetings.items()}
    known, has_regular = student.continues_with, student.regular is not None
    slots = []
    for i, instructor_id in chosen:
        meeting = meetings[i]
        continues = None if known is None else instructor_id == known
        factors = Factors(
            costs[i],
            gaps[instructor_id].stranded_minutes(i),
            continues,
            (meeting.starts_at - now).days,
            policy.horizon_days,
            has_regular,
        )
        score, reasons = fit(factors)
        slots.append(
            Slot(meeting.starts_at, meeting.ends_at, instructor_id, costs[i], score, reasons)
        )
    return slots


class _Gaps:
    """An instructor's free stretches, and what a meeting in one of them would leave too short."""

    def __init__(self, free: int, held_cells: int, shortest_cells: int) -> None:
        self._stretches = stretches(free)
        self._begins = [first for first, _ in self._stretches]
        self._held, self._shortest = held_cells, shortest_cells

    def stranded_minutes(self, start: int) -> int:
        """Minutes that no offering fits into, before a meeting in that cell and after its time."""
        first, past = self._stretches[bisect_right(self._begins, start) - 1]
        before, after = start - first, max(past - start - self._held, 0)
        return CELL_MINUTES * sum(gap for gap in (before, after) if gap < self._shortest)


def _resting(instructor: InstructorTime, minutes: int, policy: Policy, horizon: Horizon) -> int:
    """The cells in which the instructor's load lets no meeting start.

    Starts that the instructor has allowed are left out.
    """
    mask = barred(bars(instructor.taught, instructor.time_zone, minutes, policy, horizon), horizon)
    for start in instructor.allowed:
        i = horizon.index(start)
        mask &= ~horizon.between(i, i + 1)
    return mask


def _student_free(
    request: SlotRequest, student: StudentTime, policy: Policy, horizon: Horizon
) -> int:
    """The cells in which the student may and would be taught."""
    mask = horizon.full & ~horizon.busy_mask(student.meetings) & ~horizon.busy_mask(student.busy)
    if (request.first_minute, request.past_minute) != (0, DAY_MINUTES):
        mask &= teachable(
            daily(request.first_minute, request.past_minute, student.time_zone), horizon
        )
    if student.adult_on and is_minor(
        student.adult_on, horizon.starts_at.astimezone(zone(student.time_zone)).date()
    ):
        under_age = Away(date.min, student.adult_on - timedelta(days=1), student.time_zone)
        of_age = TeachingTime(daily(0, DAY_MINUTES, student.time_zone).weekly, away=(under_age,))
        mask &= teachable(minor_time(policy, student.time_zone), horizon) | teachable(
            of_age, horizon
        )
    return mask
