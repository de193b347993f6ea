"""A group meeting is duplicated: once, or on a series of dates. Each is a meeting of its own.

A series keeps the wall time of the instructor's clock through every change of clocks.
"""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db import transaction

from accounts.models import User
from bookings.domain.errors import Refused
from bookings.domain.instants import resolve_once
from bookings.domain.minimums import Minimum
from bookings.domain.rooms import is_address_in
from bookings.models import Meeting
from bookings.operations.locks import lock_instructors, lock_meeting
from bookings.operations.meetings import create_meeting
from bookings.operations.previews import taken_back
from bookings.queries.teaching import zone_of_hours

MOST_DATES, MOST_WEEKS = 40, 12


@dataclass(frozen=True, slots=True)
class Series:
    """`count` dates from `first_on` on, `every_weeks` weeks apart, but for those in `without`.

    `wall_at` is in minutes of the day, on the clock of the instructor's hours.
    """

    first_on: date
    wall_at: int
    every_weeks: int = 1
    count: int = 1
    without: frozenset[date] = frozenset()

    def dates(self) -> list[date]:
        """Every date, left out or not. Refused("invalid") beyond what a series may hold."""
        if not (1 <= self.count <= MOST_DATES and 1 <= self.every_weeks <= MOST_WEEKS):
            raise Refused(
                "invalid",
                f"A series has at most {MOST_DATES} dates, at most {MOST_WEEKS} weeks apart.",
                field="count",
            )
        apart = timedelta(weeks=self.every_weeks)
        found = [self.first_on + step * apart for step in range(self.count)]
        if not self.without < set(found):
            raise Refused(
                "invalid",
                "Leave out dates of the series only, and keep at least one.",
                field="without",
            )
        return found


@dataclass(frozen=True, slots=True)
class SeriesDate:
    """One date of a series: its meeting, or why there can be none; neither where it is left out."""

    on: date
    meeting: Meeting | None = None
    refusal: Refused | None = None


def repeat_meeting(
    *, actor: User, meeting: Meeting, series: Series, version: int | None = None, now: datetime
) -> list[Meeting]:
    """Makes the meeting again on every date of the series that is not left out; all or none.

    Each has a UID and a room of its own; what the school typed as an address is kept. Refused:
    "stale", "invalid", and "series-dates" with `dates` where one cannot be made, as
    `create_meeting` and `resolve_once` say.
    """
    made = _carried_out(actor, meeting, series, version, now)
    failed = [day for day in made if day.refusal is not None]
    if failed:
        days = ", ".join(f"{day.on.day} {day.on:%B}" for day in failed)
        raise Refused(
            "series-dates",
            f"Nothing is added, because these dates are not available: {days}. "
            "Leave them out, or choose another time.",
            dates=[
                {
                    "on": day.on.isoformat(),
                    "code": day.refusal.code,
                    "detail": day.refusal.detail,
                }
                for day in failed
                if day.refusal is not None
            ],
        )
    return [day.meeting for day in made if day.meeting is not None]


def preview_series(
    *, actor: User, meeting: Meeting, series: Series, version: int | None = None, now: datetime
) -> list[SeriesDate]:
    """Every date of the series as `repeat_meeting` would make it; nothing is written."""
    return taken_back(lambda: _carried_out(actor, meeting, series, version, now))


def _carried_out(
    actor: User, meeting: Meeting, series: Series, version: int | None, now: datetime
) -> list[SeriesDate]:
    dates = series.dates()
    lock_instructors([meeting.instructor_id])
    like = lock_meeting(meeting.pk, version=version)
    if like.offering.is_one_on_one:
        raise Refused("wrong-kind", "A one-on-one is booked by its student.")
    return [_made(actor, like, on, series, now) for on in dates]


def _made(actor: User, like: Meeting, on: date, series: Series, now: datetime) -> SeriesDate:
    if on in series.without:
        return SeriesDate(on)
    try:
        with transaction.atomic():
            return SeriesDate(on, meeting=_made_at(actor, like, _start(like, on, series), now))
    except Refused as refusal:
        return SeriesDate(on, refusal=refusal)


def _start(like: Meeting, on: date, series: Series) -> datetime:
    wall = datetime.combine(on, time()) + timedelta(minutes=series.wall_at)
    return resolve_once(wall, zone_of_hours(like.instructor))


def _made_at(actor: User, like: Meeting, starts_at: datetime, now: datetime) -> Meeting:
    is_in_room = is_address_in(like.instructor.room, like.join_address)
    return create_meeting(
        actor=actor,
        offering=like.offering,
        instructor=like.instructor,
        starts_at=starts_at,
        title=like.title,
        places=like.places,
        listener_places=like.listener_places,
        join_address="" if is_in_room else like.join_address,
        lowest_level=like.lowest_level,
        highest_level=like.highest_level,
        minimum=_minimum(like, starts_at),
        players_are_chosen=like.players_are_chosen,
        now=now,
    )


def _minimum(like: Meeting, starts_at: datetime) -> Minimum | None:
    """The same minimum to run, decided as long before the start."""
    if like.minimum is None or like.decide_by is None:
        return None
    return Minimum(like.minimum, starts_at - (like.starts_at - like.decide_by))


def at_another_utc_hour(days: Collection[SeriesDate]) -> set[date]:
    """The dates whose meeting begins at another time of the UTC day than the first meeting does."""
    clocks = {day.on: day.meeting.starts_at.time() for day in days if day.meeting is not None}
    first = next(iter(clocks.values()), None)
    return {on for on, clock in clocks.items() if clock != first}
