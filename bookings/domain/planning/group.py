"""When a group should meet: which of the candidate starts, and who goes to which.

Two forms. In a *series* every member who takes part goes to every meeting (one meeting is a series
of one). In *parallel* each member goes to one of several meetings.

The order of what counts, each among the plans that are best in everything before it:

1. placed: most members take part.
2. hard: 0 if nobody comes at a burden of `HARD` or more, else 1. Only if nothing else: such an hour
   is planned only where fewer would take part without it.
3. greatest: least maximum, over all members, of the burden carried in plus the new burden. Whoever
   does not take part has no new burden and still counts with the carried one, so that leaving out
   those who bore most gains nothing.
4. sum: least sum of the new burdens.
5. earliest: least sum of the chosen starts' numbers, counted from 0 in order of instant and
   instructor.

The mathematics stand in `group_series` and `group_parallel`. Every stage is proven or told with its
bound. Members who cost the same at every start are one unknown with a count, and so are, in
parallel, starts that cost every member the same. Level bands make a start several options, one a
band, of which one at most is chosen. A greedy answer comes first, and a stage whose simple bound it
reaches never meets the solver.
"""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum

from bookings.domain.errors import Refused
from bookings.domain.planning.model import Answer

Costs = tuple[int | None, ...]
"""The burden of each candidate start for one member, 0-20; None where they cannot come."""
Band = tuple[int, int]
"""The lowest and the highest level of those who may meet together."""

UNIT = 1 / 64
"""Carried burdens halve each term: they are counted to this, and exactly."""


class Form(StrEnum):
    """Whether every member goes to every meeting, or each to one of them."""

    SERIES = "series"
    PARALLEL = "parallel"


class Reason(StrEnum):
    """Why a member takes no part."""

    NEVER = "never"
    """They can come to no candidate start (in a series: to too few)."""
    LEVEL = "level"
    """Their level is in no band that meets."""
    FULL = "full"
    """They could come, and every place is taken."""
    OTHER_TIMES = "other-times"
    """They can come at other starts only, which suit fewer."""


@dataclass(frozen=True, slots=True)
class Start:
    """A candidate: an instant at which this instructor could begin; `on` is the date on the
    instructor's clock.
    """

    starts_at: datetime
    instructor_id: int
    on: date


@dataclass(frozen=True, slots=True)
class Member:
    """`carried` is the burden from earlier meetings, in multiples of `UNIT`; `level` is None where
    it does not matter.

    Refused("invalid") for a carried burden that is below 0 or no such multiple.
    """

    id: int
    costs: Costs
    carried: float = 0
    level: int | None = None

    def __post_init__(self) -> None:
        if self.carried < 0 or self.carried % UNIT:
            raise Refused("invalid", "Round the carried burden to 64ths.")


@dataclass(frozen=True, slots=True)
class GroupProblem:
    """What is known before. Lengths are in minutes; `changeover` follows each meeting.

    `meetings` is exact for a series and the most for parallel meetings; None means as few parallel
    meetings as place the most members. `days_apart` is the least number of days from one date of a
    series to the next; 0 allows several on one date. Without `bands` all levels meet together.

    Refused("invalid") names the field.
    """

    members: tuple[Member, ...]
    starts: tuple[Start, ...]
    minutes: int
    places: int
    meetings: int | None = 1
    form: Form = Form.SERIES
    days_apart: int = 1
    changeover: int = 0
    bands: tuple[Band, ...] = ()

    def __post_init__(self) -> None:
        if not self.members:
            raise Refused("invalid", "Choose at least one member.", field="students")
        if len({member.id for member in self.members}) < len(self.members):
            raise Refused("invalid", "Name each member once.", field="students")
        if any(len(member.costs) != len(self.starts) for member in self.members):
            raise Refused("invalid", "Give each member a cost for every start.", field="students")
        if self.minutes < 1 or self.changeover < 0:
            raise Refused("invalid", "Choose a length of at least one minute.", field="minutes")
        if self.places < 1:
            raise Refused("invalid", "Choose at least one place.", field="places")
        if self.days_apart < 0:
            raise Refused("invalid", "Choose 0 or more days apart.", field="days_apart")
        if self.meetings is None and self.form is Form.SERIES:
            raise Refused("invalid", "Choose how many meetings a series has.", field="meetings")
        if self.meetings is not None and self.meetings < 1:
            raise Refused("invalid", "Choose at least one meeting.", field="meetings")

    def collide(self, one: Start, other: Start) -> bool:
        """Whether the two cannot both be held: one instructor, or in a series one group."""
        if self.form is Form.PARALLEL and one.instructor_id != other.instructor_id:
            return False
        first, second = sorted((one.starts_at, other.starts_at))
        return second < first + timedelta(minutes=self.minutes + self.changeover)


@dataclass(frozen=True, slots=True)
class PlannedMeeting:
    """One meeting and the ids of who goes there, in order."""

    start: Start
    members: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Share:
    """What the plan asks of one member: the new burden in all, and that of the dearest meeting."""

    member: int
    carried: float
    new: int
    dearest: int


@dataclass(frozen=True, slots=True)
class GroupPlan(Answer):
    """The answer. `stages` has what each of placed, hard, greatest, sum and earliest came to.

    `split` is a proposal of parallel groups where no time under `HARD` exists for all who could
    come: each group a plan of its own.
    """

    meetings: tuple[PlannedMeeting, ...]
    shares: tuple[Share, ...]
    unplaced: tuple[tuple[int, Reason], ...]
    split: "tuple[GroupPlan, ...]" = ()
