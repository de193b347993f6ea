"""An offering, an instructor and a student as plain values for the rules of time."""

from collections.abc import Collection
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta

from bookings.domain.errors import Refused
from bookings.domain.hours import StoredHours, TeachingTime, teachable
from bookings.domain.load import TAUGHT_AROUND
from bookings.domain.student_hours import NOTHING_SAID, SaidHours
from bookings.domain.timeline import CELL_MINUTES, Horizon, Period
from bookings.domain.vocabulary import Grid
from bookings.domain.weekly_costs import WeeklyCosts


@dataclass(frozen=True, slots=True)
class OfferingRules:
    """How an offering uses time, in whole multiples of 5 minutes; Refused("invalid") otherwise.

    Starts fall on multiples of `step_minutes` of the instructor's wall-clock day (Grid.CLOCK), or
    on a chain with that step in elapsed time from each window's own start (Grid.WINDOW).
    Grid.PACKED has no step: see domain.packed.
    """

    minutes: int
    changeover_minutes: int
    grid: Grid
    step_minutes: int

    def __post_init__(self) -> None:
        for name, least in (("minutes", 1), ("changeover_minutes", 0), ("step_minutes", 1)):
            value = getattr(self, name)
            if value < least or value % CELL_MINUTES:
                raise Refused(
                    "invalid",
                    f"{name.replace('_', ' ').capitalize()}: choose whole 5 minutes, not {value}.",
                    field=name,
                )

    @property
    def meeting_cells(self) -> int:
        """Cells of the meeting."""
        return self.minutes // CELL_MINUTES

    @property
    def held_minutes(self) -> int:
        """Minutes of the meeting and its changeover."""
        return self.minutes + self.changeover_minutes

    @property
    def held_cells(self) -> int:
        """Cells of the meeting and its changeover."""
        return self.held_minutes // CELL_MINUTES


@dataclass(frozen=True, slots=True)
class InstructorTime:
    """One instructor's time.

    `meetings` are [starts_at, held_until), changeover included. `busy` comes from other calendars.
    `taught` are the same meetings as [starts_at, ends_at), from eight days before the first start
    asked for to eight days after the last, so that the local week is whole. `allowed` are starts
    for which the instructor has waived their load rules. With `keeps_hours_whole` lists leave out
    starts that cost the day a lesson, as domain.whole_hours says. `stored` may hold the mask of
    `teaching`; beyond its horizon the mask is computed anew.
    """

    id: int
    time_zone: str
    teaching: TeachingTime
    meetings: tuple[Period, ...] = ()
    busy: tuple[Period, ...] = ()
    taught: tuple[Period, ...] = ()
    allowed: frozenset[datetime] = frozenset()
    stored: StoredHours | None = None
    keeps_hours_whole: bool = False

    def teachable(self, horizon: Horizon) -> int:
        """The cells of the horizon that lie wholly in the instructor's teachable time."""
        known = self.stored.over(horizon) if self.stored else None
        return teachable(self.teaching, horizon) if known is None else known

    def near(self, instant: datetime) -> "InstructorTime":
        """The same time, with only the meetings and busy times near enough for a rule to count them
        against a start at that instant.

        A term has hundreds of meetings, and each date would look at all of them.
        """
        since = instant - TAUGHT_AROUND - timedelta(days=1)
        until = instant + TAUGHT_AROUND + timedelta(days=1)
        return replace(
            self,
            meetings=tuple(row for row in self.meetings if since < row.starts_at < until),
            taught=tuple(row for row in self.taught if since < row.starts_at < until),
            busy=tuple(row for row in self.busy if since < row.ends_at and row.starts_at < until),
        )

    def without(self, given_up: Collection[datetime]) -> "InstructorTime":
        """The same time without the meetings that start at these instants."""
        return replace(
            self,
            meetings=tuple(row for row in self.meetings if row.starts_at not in given_up),
            taught=tuple(row for row in self.taught if row.starts_at not in given_up),
        )


@dataclass(frozen=True, slots=True)
class StudentTime:
    """The time of the student who is booked; a minor before the local date `adult_on`, None for an
    adult.

    `busy` comes from other calendars, and instructors are never told of it. `heard_by` is the
    instructor of the latest released assessment and `heard_in` its id; both None without one.
    `regular` is the regular instructor; None without one.
    `open_consultations` counts those the student has open, 0 if nobody counted. `said` is what the
    family says of the student's week, and `costs` is what its hours cost by that.
    """

    id: int
    time_zone: str
    adult_on: date | None = None
    meetings: tuple[Period, ...] = ()
    busy: tuple[Period, ...] = ()
    heard_by: int | None = None
    heard_in: int | None = None
    open_consultations: int = 0
    regular: int | None = None
    said: SaidHours = NOTHING_SAID
    costs: WeeklyCosts = field(init=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        costs = WeeklyCosts(self.time_zone, self.adult_on, self.said)
        object.__setattr__(self, "costs", costs)

    @property
    def continues_with(self) -> int | None:
        """The instructor with whom lessons go on: the regular one, else `heard_by`."""
        return self.heard_by if self.regular is None else self.regular
