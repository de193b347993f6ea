"""Finding slots, and judging one start by the same rules.

`find_slots` and `check_start` are two readings of one set of masks: what the one offers the other lets through.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from bookings.domain.burden import burden
from bookings.domain.errors import Refused
from bookings.domain.grid import starts_on_grid
from bookings.domain.hours import DAY_MINUTES, Away, TeachingTime, teachable
from bookings.domain.policy import (
    Policy,
    check_horizon,
    check_lead,
    check_minor,
    daily,
    earliest_start,
    is_minor,
    latest_start,
    minor_time,
)
from bookings.domain.timeline import CELL, CELL_MINUTES, EPOCH, Horizon, Period, bits, in_utc, runs
from bookings.domain.vocabulary import Grid
from bookings.domain.zones import zone


@dataclass(frozen=True, slots=True)
class OfferingRules:
    """What an offering asks of time, in minutes, all on whole 5 minutes; Refused("invalid") otherwise.

    Starts fall on multiples of `step_minutes` of the instructor's wall-clock day (Grid.CLOCK), or on a chain with that
    step in elapsed time from each window's own start (Grid.WINDOW).
    """

    minutes: int
    changeover_minutes: int
    grid: Grid
    step_minutes: int

    def __post_init__(self) -> None:
        for name, least in (("minutes", 1), ("changeover_minutes", 0), ("step_minutes", 1)):
            value = getattr(self, name)
            if value < least or value % CELL_MINUTES:
                raise Refused("invalid", f"{name.replace('_', ' ').capitalize()}: choose whole 5 minutes, not {value}.", field=name)

    @property
    def meeting_cells(self) -> int:
        """Cells of the meeting."""
        return self.minutes // CELL_MINUTES

    @property
    def held_cells(self) -> int:
        """Cells of the meeting and its changeover."""
        return (self.minutes + self.changeover_minutes) // CELL_MINUTES


@dataclass(frozen=True, slots=True)
class InstructorTime:
    """One instructor: `meetings` are [starts_at, held_until), changeover included; `busy` comes from other calendars."""

    id: int
    time_zone: str
    teaching: TeachingTime
    meetings: tuple[Period, ...] = ()
    busy: tuple[Period, ...] = ()


@dataclass(frozen=True, slots=True)
class StudentTime:
    """The one who books or is booked for; a minor before the local date `adult_on`, None = of age."""

    id: int
    time_zone: str
    adult_on: date | None = None
    meetings: tuple[Period, ...] = ()


@dataclass(frozen=True, slots=True)
class SlotRequest:
    """Starts in [since, until). `earliest` and `latest` are minutes of the student's local day that hold the whole meeting.

    Refused: "naive-time"; "end-before-start" when until is not after since, or latest not after earliest.
    """

    offering: OfferingRules
    since: datetime
    until: datetime
    earliest: int | None = None
    latest: int | None = None
    limit: int | None = None

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


@dataclass(frozen=True, slots=True)
class Slot:
    """A start that can be booked now, and what its hour costs the student (0-20)."""

    starts_at: datetime
    ends_at: datetime
    instructor_id: int
    burden: int


def find_slots(
    request: SlotRequest, instructors: Sequence[InstructorTime], student: StudentTime, policy: Policy, now: datetime
) -> list[Slot]:
    """Every start that obeys every rule, by start and then instructor id, at most `limit`; Refused("unknown-zone")."""
    rules = request.offering
    since = max(request.since, earliest_start(now, policy))
    past = min(request.until, latest_start(now, policy) + datetime.resolution)  # the latest start is included, `until` is not
    if past <= since:
        return []
    starts = Horizon.spanning(since, past)
    horizon = Horizon(starts.starts_at, starts.cells + rules.held_cells)
    asked = horizon.between(horizon.index_from(since), starts.cells)
    welcome = _student_free(request, student, policy, horizon)
    found = sorted(
        (i, instructor.id)
        for instructor in instructors
        for i in bits(
            asked
            & runs(welcome & teachable(instructor.teaching, horizon) & ~horizon.busy_mask(instructor.busy), rules.meeting_cells)
            & runs(horizon.full & ~horizon.busy_mask(instructor.meetings), rules.held_cells)
            & starts_on_grid(rules.grid, rules.step_minutes, instructor.time_zone, instructor.teaching, horizon)
        )
    )
    chosen = found[: request.limit]
    meetings = {i: Period(horizon.instant(i), horizon.instant(i + rules.meeting_cells)) for i in {i for i, _ in chosen}}
    costs = {i: burden(meeting, student.time_zone) for i, meeting in meetings.items()}
    return [Slot(meetings[i].starts_at, meetings[i].ends_at, instructor_id, costs[i]) for i, instructor_id in chosen]


def _student_free(request: SlotRequest, student: StudentTime, policy: Policy, horizon: Horizon) -> int:
    """The cells in which the student may and would be taught."""
    mask = horizon.full & ~horizon.busy_mask(student.meetings)
    if (request.first_minute, request.past_minute) != (0, DAY_MINUTES):
        mask &= teachable(daily(request.first_minute, request.past_minute, student.time_zone), horizon)
    if student.adult_on and is_minor(student.adult_on, horizon.starts_at.astimezone(zone(student.time_zone)).date()):
        under_age = Away(date.min, student.adult_on - timedelta(days=1), student.time_zone)
        of_age = TeachingTime(daily(0, DAY_MINUTES, student.time_zone).weekly, away=(under_age,))
        mask &= teachable(minor_time(policy, student.time_zone), horizon) | teachable(of_age, horizon)
    return mask


def check_start(
    starts_at: datetime,
    request_offering: OfferingRules,
    instructor: InstructorTime,
    student: StudentTime,
    policy: Policy,
    now: datetime,
) -> None:
    """Lets a start through that `find_slots` would offer; else raises the first refusal, in this order.

    "naive-time", "off-grid" (not on 5 minutes), "past", "too-soon", "too-far", "outside-hours", "off-grid" (not a start of
    the offering), "taken", "own-clash", "minor-hours". A taken time says nothing about what is there.
    """
    rules = request_offering
    starts_at = in_utc(starts_at)
    if (starts_at - EPOCH) % CELL:
        raise Refused("off-grid", "Choose a start on whole 5 minutes.")
    check_lead(starts_at, now, policy, student.time_zone)
    check_horizon(starts_at, now, policy, student.time_zone)
    held = Horizon(starts_at, rules.held_cells)
    meeting = Period(starts_at, starts_at + rules.meeting_cells * CELL)
    cells = held.mask_inward(meeting)
    if cells & ~teachable(instructor.teaching, held):
        raise Refused(
            "outside-hours", f"The instructor does not teach for {rules.minutes} minutes from then: choose one of the times offered."
        )
    if not starts_on_grid(rules.grid, rules.step_minutes, instructor.time_zone, instructor.teaching, held) & 1:
        raise Refused("off-grid", _grid_in_words(rules))
    if held.busy_mask(instructor.meetings) or cells & held.busy_mask(instructor.busy):
        raise Refused("taken", "That time is not free: choose another.")
    if cells & held.busy_mask(student.meetings):
        raise Refused("own-clash", "The student already has a meeting at that time: choose another, or move that one first.")
    if is_minor(student.adult_on, starts_at.astimezone(zone(student.time_zone)).date()):
        check_minor(meeting, student.time_zone, policy)


def _grid_in_words(rules: OfferingRules) -> str:
    if rules.grid is Grid.CLOCK:
        return f"Starts fall every {rules.step_minutes} minutes of the instructor's clock, counted from midnight: choose one of them."
    return f"Starts follow every {rules.step_minutes} minutes from the start of the teaching hours: choose one of them."
