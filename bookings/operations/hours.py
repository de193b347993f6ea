"""An instructor's hours: publish the week, add extra hours on a date.

One-on-ones outside the new hours are listed and kept: moving them is the instructor's decision.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from accounts.models import Instructor, User
from bookings.domain.errors import Refused
from bookings.domain.hours import DAY_MINUTES, TeachingTime, WeeklyWindow, check_week, teachable
from bookings.domain.proposals import LOOKS_AHEAD_DAYS, Proposal
from bookings.domain.timeline import Horizon, Period
from bookings.domain.zones import zone
from bookings.models import DaysAway, ExtraHours, Meeting, TeachingHours, TeachingWeek
from bookings.operations.audit import record
from bookings.operations.locks import lock_instructors
from bookings.operations.versions import check_version
from bookings.queries.teaching import teaching_time


@dataclass(frozen=True, slots=True)
class Published:
    """The week as it now stands, and the one-on-ones ahead that lie outside it."""

    week: TeachingWeek
    left_outside: list[Meeting]


def publish_week(
    *,
    actor: User,
    instructor: Instructor,
    time_zone: str,
    windows: Sequence[tuple[int, int, int]],
    keeps_hours_whole: bool | None = None,
    version: int | None = None,
    now: datetime,
) -> Published:
    """Replaces the week by `windows`: (weekday, opens, closes) in `time_zone`.

    Weekday 0 is Monday; the other two are minutes of the day in steps of five. Whether lists keep
    hours whole (see domain.whole_hours) stays as it is for None. Refused("stale").
    """
    zone(time_zone)
    check_week(
        [WeeklyWindow(weekday, opens, closes, time_zone) for weekday, opens, closes in windows]
    )
    week = locked_week(instructor, version)
    week.time_zone = zone(time_zone)
    fields = ["windows"]
    if keeps_hours_whole not in (None, week.keeps_hours_whole):
        week.keeps_hours_whole = bool(keeps_hours_whole)
        fields.append("keeps_hours_whole")
    week.windows.all().delete()
    TeachingHours.objects.bulk_create(
        TeachingHours(week=week, weekday=weekday, opens=opens, closes=closes)
        for weekday, opens, closes in sorted(windows)
    )
    return changed_week(actor, week, "published", now, fields=fields)


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
    """Adds a window on one date, in minutes of the day; a second time changes nothing.

    Refused("past") for a date gone by.
    """
    zone(time_zone)
    check_week([WeeklyWindow(on.weekday(), opens, closes, time_zone)])
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
    """Takes extra hours back. Bookings in them are listed and kept."""
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
    """Replaces the week, extra hours and days away ahead by those of a proposal, all or none.

    What begins after the stretch of the proposal (LOOKS_AHEAD_DAYS) stays. Refused("stale") where
    the hours have changed since the instructor looked at it.
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
    # Cleared hours stay: no proposal can say them, and they would be offered again unseen.
    whole_days = DaysAway.objects.filter(from_minute=0, to_minute=DAY_MINUTES)
    whole_days.filter(instructor=instructor, last_on__gte=today, first_on__lt=past).delete()
    own = {"instructor": instructor, "time_zone": zone(proposal.time_zone)}
    ExtraHours.objects.bulk_create(
        ExtraHours(on=on, opens=opens, closes=closes, **own) for on, opens, closes in proposal.extra
    )
    DaysAway.objects.bulk_create(
        DaysAway(first_on=first_on, last_on=last_on, **own) for first_on, last_on in proposal.away
    )
    return changed_week(actor, week, "adopted hours", now)


def take_back(row: ExtraHours | DaysAway) -> None:
    """Deletes it; Refused("not-found") where somebody already has."""
    gone, _ = type(row).objects.filter(pk=row.pk).delete()
    if not gone:
        raise Refused("not-found", "This has already been removed.")


def locked_week(instructor: Instructor, version: int | None) -> TeachingWeek:
    """The week under its instructor's lock. Refused("stale") as in `check_version`."""
    lock_instructors([instructor.pk])
    week, _ = TeachingWeek.objects.get_or_create(
        instructor=instructor, defaults={"time_zone": instructor.user.time_zone}
    )
    check_version(
        week,
        version,
        detail="The hours have changed since you read them. Read them again, then decide.",
    )
    return week


def changed_week(
    actor: User,
    week: TeachingWeek,
    verb: str,
    now: datetime,
    *,
    fields: Sequence[str] = ("windows",),
) -> Published:
    """Raises the version and records who did it; returns what lies outside now."""
    week.version += 1
    week.changed_at = now
    week.save()
    record(actor=actor, verb=verb, thing=week, fields=fields, now=now)
    return Published(week, left_outside(week.instructor, now=now))


def left_outside(instructor: Instructor, *, now: datetime) -> list[Meeting]:
    """One-on-ones ahead that do not lie inside the instructor's hours, by start."""
    hours = teaching_time(instructor.pk)
    ahead = Meeting.objects.not_called_off().taught_by(instructor).ahead(now)
    meetings = ahead.one_on_one().select_related("offering")
    return [
        meeting
        for meeting in meetings
        if not _inside(hours, Period(meeting.starts_at, meeting.ends_at))
    ]


def _inside(hours: TeachingTime, period: Period) -> bool:
    horizon = Horizon.spanning(period.starts_at, period.ends_at)
    return not horizon.mask_inward(period) & ~teachable(hours, horizon)
