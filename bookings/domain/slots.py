"""Finding slots: the door to the solver, from which all that a caller needs can be imported.

`find_slots` here and `explain_start` and `check_start` in domain.explain read one set of rules: a
start that the first offers is one that the others allow.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cache
from typing import NamedTuple

from bookings.domain.errors import Refused
from bookings.domain.explain import check_start, explain_start, for_student
from bookings.domain.fit import Factors, ahead_in_words, fit, lost_in_words
from bookings.domain.hours import DAY_MINUTES, Away, TeachingTime, teachable
from bookings.domain.openings import WHOLE_DAY, Openings
from bookings.domain.parties import InstructorTime, OfferingRules, StudentTime
from bookings.domain.policy import Policy, daily, earliest_start, is_minor, latest_start, minor_time
from bookings.domain.reasons import Reason
from bookings.domain.start_costs import USUAL, Listing, StartCosts, offered
from bookings.domain.timeline import CELL, Horizon, Period, bits, runs
from bookings.domain.whole_hours import left_out
from bookings.domain.zones import zone

WEEK = timedelta(days=7)

__all__ = [
    "InstructorTime",
    "OfferingRules",
    "Reason",
    "Slot",
    "SlotRequest",
    "StudentTime",
    "check_start",
    "dated",
    "explain_start",
    "find_slots",
    "for_school",
    "for_student",
    "student_free",
]


@dataclass(frozen=True, slots=True)
class SlotRequest:
    """Starts in [since, until).

    `earliest` and `latest` are minutes of the student's local day; the whole meeting lies between
    them. With `nearest_to` the `limit` starts nearest to that instant are wanted, not the first.
    `every` asks also for the starts that an instructor's lists leave out to keep hours whole.
    Refused: "naive-time"; "end-before-start" when until is not after since, or latest not after
    earliest.
    """

    offering: OfferingRules
    since: datetime
    until: datetime
    earliest: int | None = None
    latest: int | None = None
    limit: int | None = None
    nearest_to: datetime | None = None
    listing: Listing = USUAL
    every: bool = False

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


class Slot(NamedTuple):
    """A start that can be booked now.

    `burden` is what its hour costs the student (0-20, or NEVER), `fit` how well it suits (0-100),
    and `reasons` say why, in sentences for everybody. `lost` are the lessons that the instructor's
    day would lose: `for_school` says them too; `dated` says how many days ahead it is.
    """

    starts_at: datetime
    ends_at: datetime
    instructor_id: int
    burden: int
    fit: int
    reasons: tuple[str, ...]
    lost: int = 0

    def also(self, reason: str) -> "Slot":
        """This slot with one reason more. Of thousands, `replace` takes twice as long."""
        return Slot(
            self.starts_at,
            self.ends_at,
            self.instructor_id,
            self.burden,
            self.fit,
            (*self.reasons, reason),
            self.lost,
        )


def for_school(slots: Iterable[Slot]) -> list[Slot]:
    """The same slots as an instructor or admin reads them: each also says which lessons it costs.

    Whoever reads for a family is told nothing of the instructor's day.
    """
    return [
        slot._replace(reasons=(*slot.reasons[:1], lost_in_words(slot.lost), *slot.reasons[1:]))
        for slot in slots
    ]


def dated(slots: Iterable[Slot], now: datetime, time_zone: str) -> list[Slot]:
    """The same slots as somebody on that clock reads them: each also says how many days ahead it
    is, counted in dates. Refused("unknown-zone").
    """
    clock = zone(time_zone)
    today = now.astimezone(clock).toordinal()
    return [
        slot.also(ahead_in_words(slot.starts_at.astimezone(clock).toordinal() - today))
        for slot in slots
    ]


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
    # The latest start is included; `until` is not.
    opens, closes = earliest_start(now, policy), latest_start(now, policy) + datetime.resolution
    since, past = max(request.since, opens), min(request.until, closes)
    if past <= since:
        return []
    first, last = since, past
    if not request.every and any(one.keeps_hours_whole for one in instructors):
        first, last = max(since - WEEK, opens), min(past + WEEK, closes)
    horizon = Horizon.spanning(first - WHOLE_DAY, last + WHOLE_DAY + rules.held_cells * CELL)
    free = runs(student_free(request, student, policy, horizon), rules.meeting_cells)
    asked = free & horizon.between(horizon.index_from(since), horizon.index_from(past))
    around = free & horizon.between(horizon.index_from(first), horizon.index_from(last))
    costs = StartCosts(student.costs, horizon, rules.meeting_cells)
    openings, found = dict[int, Openings](), list[tuple[int, int]]()
    for instructor in instructors:
        opening = Openings(rules, instructor, policy, horizon)
        if not asked & opening.on_grid:
            continue
        openings[instructor.id] = opening
        starts = bits(asked & opening.bookable)
        if instructor.keeps_hours_whole and not request.every:
            hidden = left_out(bits(around & opening.bookable), opening, costs.cost)
            starts = [i for i in starts if i not in hidden]
        found += [(i, instructor.id) for i in starts]
    chosen = _chosen(found, request, costs)
    return _slots(chosen, costs.told_in(request.listing), openings, student, policy, now)


def _chosen(
    found: list[tuple[int, int]], request: SlotRequest, costs: StartCosts
) -> list[tuple[int, int]]:
    """At most `limit` of these (cell, instructor id), sorted: the first, or the nearest."""
    found.sort()
    if request.nearest_to is not None:
        wanted = (request.nearest_to - costs.horizon.starts_at) / CELL
        found.sort(key=lambda start: abs(start[0] - wanted))
    return sorted(offered(found, costs, request.listing, request.limit))


def _slots(
    chosen: list[tuple[int, int]],
    costs: StartCosts,
    openings: dict[int, Openings],
    student: StudentTime,
    policy: Policy,
    now: datetime,
) -> list[Slot]:
    """A slot for each (cell, instructor id), with its burden and its fit."""
    known, has_regular = student.continues_with, student.regular is not None

    @cache  # many instructors offer one start
    def fit_at(i: int, lost: int, continues: bool | None) -> tuple[int, tuple[str, ...]]:
        hour, days_ahead = costs.hour(i), (costs.meeting(i).starts_at - now).days
        return fit(
            Factors(
                hour.cost,
                lost,
                continues,
                days_ahead,
                policy.horizon_days,
                has_regular,
                hour.words,
            )
        )

    slots = []
    for i, instructor_id in chosen:
        starts_at, ends_at = costs.meeting(i)
        lost = openings[instructor_id].lost(i)
        continues = None if known is None else instructor_id == known
        score, reasons = fit_at(i, lost, continues)
        slots.append(Slot(starts_at, ends_at, instructor_id, costs.cost(i), score, reasons, lost))
    return slots


def student_free(
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
