"""An instructor's time: publish the week, add hours on a date. What it leaves outside is listed and kept."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from accounts.models import Instructor, User
from bookings.domain.availability import LOOKS_AHEAD_DAYS, Proposal
from bookings.domain.errors import Refused
from bookings.domain.hours import TeachingTime, WeeklyWindow, teachable, validate_week
from bookings.domain.timeline import CELL, EPOCH, Horizon, Period, in_utc
from bookings.domain.vocabulary import MeetingStatus
from bookings.domain.zones import zone
from bookings.models import (
    DaysAway,
    ExtraHours,
    LoadAllowance,
    Meeting,
    TeachingHours,
    TeachingWeek,
)
from bookings.operations.audit import record
from bookings.operations.locks import lock_instructors
from bookings.queries.teaching import teaching_time


@dataclass(frozen=True, slots=True)
class Published:
    """The week as it now stands and the live one-on-ones that lie outside it. They are kept: moving them is a decision."""

    week: TeachingWeek
    left_outside: list[Meeting]


def publish_week(
    *,
    actor: User,
    instructor: Instructor,
    time_zone: str,
    windows: Sequence[tuple[int, int, int]],
    version: int | None = None,
    now: datetime,
) -> Published:
    """Replaces the week: (weekday, opens, closes) on the wall clock of `time_zone`, minutes of the day in steps of five."""
    zone(time_zone)
    validate_week(
        [WeeklyWindow(weekday, opens, closes, time_zone) for weekday, opens, closes in windows]
    )
    week = locked_week(instructor, version)
    week.time_zone = zone(time_zone)
    week.windows.all().delete()
    TeachingHours.objects.bulk_create(
        TeachingHours(week=week, weekday=weekday, opens=opens, closes=closes)
        for weekday, opens, closes in sorted(windows)
    )
    return changed_week(actor, week, "published", now)


def add_extra_hours(
    *,
    actor: User,
    instructor: Instructor,
    on: date,
    opens: int,
    closes: int,
    time_zone: str,
    now: datetime,
) -> ExtraHours:
    """A window on one date beside the weekly ones; the same one a second time changes nothing."""
    zone(time_zone)
    validate_week([WeeklyWindow(on.weekday(), opens, closes, time_zone)])
    if on < (now - timedelta(days=1)).date():
        raise Refused("past", "Choose a date in the future.")
    week = locked_week(instructor, None)
    extra, is_new = ExtraHours.objects.get_or_create(
        instructor=instructor, on=on, opens=opens, closes=closes, time_zone=zone(time_zone)
    )
    if not is_new:
        return extra
    changed_week(actor, week, "added extra hours", now)
    return extra


def remove_extra_hours(*, actor: User, extra: ExtraHours, now: datetime) -> Published:
    """Takes extra hours back; bookings in them are listed and kept."""
    week = locked_week(extra.instructor, None)
    take_back(extra)
    return changed_week(actor, week, "removed extra hours", now)


def adopt_hours(
    *,
    actor: User,
    instructor: Instructor,
    proposal: Proposal,
    version: int | None = None,
    now: datetime,
) -> Published:
    """Week, extra hours and days away become those of a proposal she has looked at: all or none, and only what lies ahead.

    What begins beyond the stretch that the proposal speaks of stays. Refused("stale") where her hours have changed meanwhile.
    """
    publish_week(
        actor=actor,
        instructor=instructor,
        time_zone=proposal.time_zone,
        windows=proposal.windows,
        version=version,
        now=now,
    )
    week = locked_week(instructor, None)
    today = now.astimezone(zone(proposal.time_zone)).date()
    past = today + timedelta(days=LOOKS_AHEAD_DAYS)
    ExtraHours.objects.filter(instructor=instructor, on__gte=today, on__lt=past).delete()
    DaysAway.objects.filter(instructor=instructor, last_on__gte=today, first_on__lt=past).delete()
    own = {"instructor": instructor, "time_zone": zone(proposal.time_zone)}
    ExtraHours.objects.bulk_create(
        ExtraHours(on=on, opens=opens, closes=closes, **own) for on, opens, closes in proposal.extra
    )
    DaysAway.objects.bulk_create(
        DaysAway(first_on=first_on, last_on=last_on, **own) for first_on, last_on in proposal.away
    )
    return changed_week(actor, week, "adopted hours", now)


def allow_over_load(
    *, actor: User, instructor: Instructor, starts_at: datetime, now: datetime
) -> LoadAllowance:
    """Waives her load rules for one start, by herself and nobody else; a second time changes nothing.

    Refused: "not-allowed" to anybody else, "past", "off-grid" off whole 5 minutes, "naive-time".
    """
    if actor.pk != instructor.user_id:
        raise Refused("not-allowed", "Only the instructor can allow more than their own load.")
    starts_at = in_utc(starts_at)
    if starts_at <= now:
        raise Refused("past", "Choose a start in the future.")
    if (starts_at - EPOCH) % CELL:
        raise Refused("off-grid", "Choose a start on whole 5 minutes.")
    lock_instructors([instructor.pk])
    allowance, is_new = LoadAllowance.objects.get_or_create(
        instructor=instructor,
        starts_at=starts_at,
        defaults={"allowed_by": actor, "allowed_at": now},
    )
    if is_new:
        record(
            actor=actor, verb="allowed over load", thing=allowance, fields=["starts_at"], now=now
        )
    return allowance


def take_back(row: ExtraHours | DaysAway) -> None:
    """Deletes it; Refused("not-found") where somebody has already."""
    gone, _ = type(row).objects.filter(pk=row.pk).delete()
    if not gone:
        raise Refused("not-found", "This has already been removed.")


def locked_week(instructor: Instructor, version: int | None) -> TeachingWeek:
    """The week under its instructor's lock; Refused("stale") where it is not the version the caller read."""
    lock_instructors([instructor.pk])
    week, _ = TeachingWeek.objects.get_or_create(
        instructor=instructor, defaults={"time_zone": instructor.user.time_zone}
    )
    if version is not None and week.version != version:
        raise Refused(
            "stale", "The hours have changed since you read them. Read them again, then decide."
        )
    return week


def changed_week(actor: User, week: TeachingWeek, verb: str, now: datetime) -> Published:
    """Raises the version, records who did it, and says what lies outside now."""
    week.version += 1
    week.changed_at = now
    week.save()
    record(actor=actor, verb=verb, thing=week, fields=["windows"], now=now)
    return Published(week, left_outside(week.instructor, now=now))


def left_outside(instructor: Instructor, *, now: datetime) -> list[Meeting]:
    """Live one-on-ones ahead that no longer lie inside her teachable time, by start."""
    hours = teaching_time([instructor.pk])[instructor.pk]
    ahead = Meeting.objects.exclude(status=MeetingStatus.CANCELLED).filter(
        instructor=instructor, starts_at__gt=now
    )
    meetings = [m for m in ahead.select_related("offering") if m.offering.is_one_on_one]
    return [
        meeting
        for meeting in meetings
        if not _inside(hours, Period(meeting.starts_at, meeting.ends_at))
    ]


def _inside(hours: TeachingTime, period: Period) -> bool:
    horizon = Horizon.spanning(period.starts_at, period.ends_at)
    return not horizon.mask_inward(period) & ~teachable(hours, horizon)
