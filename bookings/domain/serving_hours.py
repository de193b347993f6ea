"""Where an extra hour would serve most: hours that an instructor does not publish, by how many of
those who wait or are due a review could come.

An hour suits a student if its burden is below HARD: neither night, nor "only if nothing else", nor
"never". Hours of the instructor's own night are left out. Of hours that suit as many, the one that
costs them least is first, then one beside published hours, then the earliest.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from bookings.domain.burden import HARD
from bookings.domain.instants import instants
from bookings.domain.local_days import midnight
from bookings.domain.parties import InstructorTime
from bookings.domain.timeline import Horizon, Period
from bookings.domain.weekly_costs import WeeklyCosts

HOUR = timedelta(hours=1)
DAY_FROM, DAY_TO = 7, 22
"""The hours of the instructor's clock that are no night."""
MOST = 3


@dataclass(frozen=True, slots=True)
class ServingHour:
    """An hour that is not published, how many it suits, and of how many."""

    starts_at: datetime
    suits: int
    asked: int

    @property
    def ends_at(self) -> datetime:
        return self.starts_at + HOUR


def serving_hours(
    instructor: InstructorTime, monday: date, people: Sequence[WeeklyCosts], *, now: datetime
) -> list[ServingHour]:
    """The best hours of that local week that begin after `now`, three at most; none that suits
    nobody.
    """
    here = instructor.time_zone
    past = midnight(monday + timedelta(days=7), here)
    horizon = Horizon.spanning(midnight(monday, here) - HOUR, past + HOUR)
    kept = instructor.teachable(horizon) | horizon.busy_mask(
        (*instructor.meetings, *instructor.busy)
    )
    ranked = []
    for starts_at in _starts(monday, here):
        hour = Period(starts_at, starts_at + HOUR)
        if starts_at <= now or kept & horizon.mask_outward(hour):
            continue
        costs = [cost for one in people if (cost := one.of(hour).cost) < HARD]
        around = Period(starts_at - HOUR / 4, starts_at + HOUR * 5 / 4)
        is_apart = not kept & horizon.mask_outward(around)
        ranked.append((-len(costs), sum(costs), is_apart, starts_at))
    return [
        ServingHour(starts_at, -suits, len(people))
        for suits, _, _, starts_at in sorted(ranked)[:MOST]
        if suits
    ]


def _starts(monday: date, here: str) -> list[datetime]:
    """The full hours of seven days that are no night; one in a gap of the clock is not there."""
    days = [monday + timedelta(days=number) for number in range(7)]
    hours = range(DAY_FROM, DAY_TO)
    return [at for on in days for hour in hours for at in instants(on, hour * 60, here)]
