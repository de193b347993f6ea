"""Proposed times by day, each day with its ribbon."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from bookings.domain.timeline import Period
from bookings.domain.zones import zone
from bookings.models import Booking
from bookings.pages.clock_changes import clock_changes
from bookings.pages.ribbon import Ribbon, draw, local_day

_FULL = 100
"""How high a proposed time is drawn: its fit is not stored, and the family is to see all alike."""


@dataclass(frozen=True, slots=True)
class ProposedDay:
    """The times of one local day, and what a reader should know of its clocks."""

    on: date
    ribbon: Ribbon
    told: list[str]
    times: list[Booking]

    @property
    def weekday(self) -> str:
        return f"{self.on:%A}"

    @property
    def words(self) -> str:
        return f"{self.on.day} {self.on:%B}"


def days_of(times: Iterable[Booking], here: str, there: str) -> list[ProposedDay]:
    """The times, which come by start, by their day `here`; the clock of `there` is drawn below."""
    clock, other_zone = zone(here), there if there != here else None
    days = []
    for on, found in groupby(times, key=lambda time: time.starts_at.astimezone(clock).date()):
        day, rows = local_day(on, here), list(found)
        starts = {time.starts_at: _FULL for time in rows}
        ribbon = draw(
            day,
            teachable=[Period(time.starts_at, time.ends_at) for time in rows],
            starts=starts,
            best=starts,
            other_zone=other_zone,
        )
        days.append(ProposedDay(on, ribbon, clock_changes(day, other_zone), rows))
    return days
