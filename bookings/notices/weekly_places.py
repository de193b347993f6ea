"""A weekly place in an email: what has happened to it, and its name and time in words."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from bookings.domain.hours import WEEKDAYS
from bookings.domain.zones import place as place_of
from bookings.models import Booking, WeeklyPlace
from bookings.notices.people import short_name


@dataclass(frozen=True, slots=True)
class Taken:
    """A place that was taken, and its bookings by start.

    `passed` is how many lessons it gives that were owed since another place ended.
    """

    place: WeeklyPlace
    bookings: Sequence[Booking]
    passed: int = 0


@dataclass(frozen=True, slots=True)
class Left:
    """A place that was given up, the bookings that ended, and those kept after their deadline."""

    place: WeeklyPlace
    ended: Sequence[Booking]
    kept: Sequence[Booking]


def what_it_is(place: WeeklyPlace, *, named: bool) -> str:
    """The offering; with `named` also the instructor: "Harp lesson with I. Quarrow"."""
    if not named:
        return place.offering.name
    return f"{place.offering.name} with {short_name(place.instructor.user)}"


def weekly_time(place: WeeklyPlace) -> str:
    """ "Tuesdays 16:00, New York", in the place's own zone."""
    return f"{WEEKDAYS[place.weekday]}s {clock_time(place)}, {place_of(place.zone)}"


def clock_time(place: WeeklyPlace) -> str:
    """ "16:00", in the place's own zone."""
    return f"{place.wall_at // 60:02}:{place.wall_at % 60:02}"


def day_and_month(on: date) -> str:
    """ "14 March"."""
    return f"{on.day} {on:%B}"
