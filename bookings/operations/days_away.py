"""Days away: nothing new is offered on them.

Meetings on them are called off in the same step, or nothing is written.
"""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from accounts.models import Instructor, User
from bookings.domain.errors import Refused
from bookings.domain.zones import zone
from bookings.models import DaysAway, Meeting, TeachingWeek
from bookings.operations.hours import changed_week, locked_week, take_back
from bookings.operations.leaving import clear
from bookings.operations.reinstating import who_returns
from bookings.queries.days_away import called_off_for, days_period, who_was_in


@dataclass(frozen=True, slots=True)
class WentAway:
    """Days away, the meetings called off for them, and the one-on-ones left outside the hours."""

    away: DaysAway
    called_off: list[Meeting]
    left_outside: list[Meeting]


@dataclass(frozen=True, slots=True)
class CameBack:
    """The week as it now stands, and the meetings ahead that were called off for these days."""

    week: TeachingWeek
    called_off: list[Meeting]


@dataclass(frozen=True, slots=True)
class ToReinstate:
    """A meeting that was called off, and who was in it.

    `refusal` says why it cannot be reinstated; None where it can.
    """

    meeting: Meeting
    names: list[str]
    refusal: Refused | None


def go_away(
    *,
    actor: User,
    instructor: Instructor,
    first_on: date,
    last_on: date,
    time_zone: str,
    call_off_why: str | None = None,
    seen: str | None = None,
    now: datetime,
) -> WentAway:
    """Adds days on which nothing new is offered, both ends included, midnight to midnight.

    `call_off_why` is a sentence for everybody in the meetings on those days, which are called off
    in the same step. `seen` is what the preview showed. The same days a second time change nothing.
    Refused: "end-before-start"; "has-bookings" with `meetings` where there are some and
    `call_off_why` is None; "stale" where the meetings, or who is in them, are not as `seen`.
    """
    in_zone = zone(time_zone)
    if last_on < first_on:
        raise Refused("end-before-start", "The last day away comes before the first.")
    week = locked_week(instructor, None)
    days = days_period(first_on, last_on, time_zone)
    called_off = clear(
        actor=actor,
        instructor=instructor,
        since=days.starts_at,
        until=days.ends_at,
        call_off_why=call_off_why,
        seen=seen,
        now=now,
    )
    away, is_known = _days(instructor, first_on, last_on, in_zone)
    if called_off:
        away.called_off_at = now
    away.save()
    if is_known and not called_off:
        return WentAway(away, [], [])
    return WentAway(away, called_off, changed_week(actor, week, "went away", now).left_outside)


def _days(
    instructor: Instructor, first_on: date, last_on: date, time_zone: ZoneInfo
) -> tuple[DaysAway, bool]:
    """The row of these days away, and whether it is stored already."""
    days = {
        "instructor": instructor,
        "first_on": first_on,
        "last_on": last_on,
        "time_zone": time_zone,
    }
    stored = DaysAway.objects.filter(**days).first()
    return stored or DaysAway(**days), stored is not None


def come_back(*, actor: User, away: DaysAway, now: datetime) -> CameBack:
    """Takes days away back. Meetings called off for them stay so, and are returned."""
    week = locked_week(away.instructor, None)
    called_off = called_off_for(away, now=now)
    take_back(away)
    changed_week(actor, week, "came back", now)
    return CameBack(week, called_off)


def to_reinstate(
    instructor: Instructor, ids: Collection[int], *, reader: User, now: datetime
) -> list[ToReinstate]:
    """These meetings of the instructor by start, each with why it cannot be reinstated now."""
    rows = Meeting.objects.not_proposed().filter(instructor=instructor, pk__in=ids)
    found = list(
        rows.select_related("offering", "instructor__user", "weekly_place").order_by(
            "starts_at", "pk"
        )
    )
    names = who_was_in(found, reader=reader, now=now)
    return [
        ToReinstate(meeting, names[meeting.pk], _what_stands_against(meeting, now))
        for meeting in found
    ]


def _what_stands_against(meeting: Meeting, now: datetime) -> Refused | None:
    try:
        who_returns(meeting, now=now)
    except Refused as refusal:
        return refusal
    return None
