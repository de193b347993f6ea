"""Days away and cleared hours: nothing new is offered in them.

What becomes of the meetings in them is done in the same step, or nothing is written.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from accounts.models import Instructor, Student, User
from bookings.access import name_for
from bookings.domain.clearing import Decision, check_stretch
from bookings.domain.errors import Refused
from bookings.domain.hours import Away, away_over
from bookings.domain.timeline import Period
from bookings.domain.zones import zone
from bookings.models import DaysAway, Meeting, TeachingWeek
from bookings.operations.clearing import Done, lock_for_clearing
from bookings.operations.hours import changed_week, locked_week, take_back
from bookings.operations.leaving import clear
from bookings.operations.reinstating import who_returns
from bookings.queries.days_away import called_off_for, days_period, who_was_in
from bookings.queries.teaching import zone_of_hours


@dataclass(frozen=True, slots=True)
class WentAway:
    """Days away, what became of the meetings on them, and one-on-ones left outside the hours."""

    away: DaysAway
    done: Done
    left_outside: list[Meeting]

    @property
    def called_off(self) -> list[Meeting]:
        return self.done.called_off


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
    students: list[Student]
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
    decisions: Sequence[Decision] | None = None,
    seen: str | None = None,
    now: datetime,
) -> WentAway:
    """Adds days on which nothing new is offered, both ends included, midnight to midnight.

    The meetings on them are called off, with `call_off_why` for everybody in them, or become what
    `decisions` say. `seen` is what the preview showed. The same days a second time change nothing.
    Refused: "end-before-start"; "has-bookings" with `meetings` where there are some and
    `call_off_why` is None; "stale" where they are not as `seen`; and as `clear_hours`.
    """
    if last_on < first_on:
        raise Refused("end-before-start", "The last day away comes before the first.")
    away = _stored_or_new(instructor, Away(first_on, last_on, time_zone))
    days = days_period(first_on, last_on, time_zone)
    return _leave(actor, away, days, call_off_why, decisions, seen, now)


def clear_hours(
    *,
    actor: User,
    instructor: Instructor,
    stretch: Period,
    decisions: Sequence[Decision],
    why: str = "",
    seen: str | None = None,
    now: datetime,
) -> Done:
    """Carries out what is decided for every meeting ahead that reaches into the stretch, and offers
    nothing new in it until `come_back`.

    Nobody is charged. Each family gets one email. Meetings that have begun stay. Times proposed in
    the stretch are taken back. `seen` is what a preview showed. The same hours a second time change
    nothing. Refused: as `check_stretch` and `check_decision`; "stale" where the meetings, or who is
    in them, are not as `seen`, or not those decided for; "plan-outdated" for a substitute who
    cannot take a lesson; and as `move_lesson`.
    """
    check_stretch(stretch, now)
    away = _stored_or_new(instructor, away_over(stretch, zone_of_hours(instructor)))
    return _leave(actor, away, stretch, why, decisions, seen, now).done


def _leave(
    actor: User,
    away: DaysAway,
    hours: Period,
    call_off_why: str | None,
    decisions: Sequence[Decision] | None,
    seen: str | None,
    now: datetime,
) -> WentAway:
    instructor, is_known = away.instructor, away.pk is not None
    lock_for_clearing(instructor, hours, decisions or (), now=now)
    week = locked_week(instructor, None)
    away.save()  # what moves does not move to these hours
    done = clear(
        actor=actor,
        instructor=instructor,
        since=hours.starts_at,
        until=hours.ends_at,
        call_off_why=call_off_why,
        decisions=decisions,
        seen=seen,
        now=now,
    )
    if done.called_off:
        away.called_off_at = now
        away.save(update_fields=["called_off_at"])
    if is_known and not done.decisions:
        return WentAway(away, done, [])
    return WentAway(away, done, changed_week(actor, week, "went away", now).left_outside)


def _stored_or_new(instructor: Instructor, away: Away) -> DaysAway:
    """The row of these days or hours away, which may be stored already."""
    values: dict[str, Any] = {
        "instructor": instructor,
        "first_on": away.first_on,
        "last_on": away.last_on,
        "from_minute": away.from_minute,
        "to_minute": away.to_minute,
        "time_zone": zone(away.time_zone),
    }
    return DaysAway.objects.filter(**values).first() or DaysAway(**values)


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
    students = who_was_in(found)
    return [
        ToReinstate(
            meeting,
            students[meeting.pk],
            [name_for(reader, student, now) for student in students[meeting.pk]],
            _what_stands_against(meeting, now),
        )
        for meeting in found
    ]


def _what_stands_against(meeting: Meeting, now: datetime) -> Refused | None:
    try:
        who_returns(meeting, now=now)
    except Refused as refusal:
        return refusal
    return None
