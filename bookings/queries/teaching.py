"""Instructors' and students' time as the pure core wants it, in a fixed number of queries whatever the size."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from django.db.models import QuerySet

from accounts.models import Instructor, Student
from bookings.domain import policy as rules
from bookings.domain.errors import Refused
from bookings.domain.hours import Away, DatedWindow, TeachingTime, WeeklyWindow
from bookings.domain.policy import Policy
from bookings.domain.slots import InstructorTime, OfferingRules, StudentTime
from bookings.domain.timeline import Period
from bookings.domain.vocabulary import Grid, MeetingStatus, Standing
from bookings.models import Booking, DaysAway, ExtraHours, Meeting, Offering, StudioPolicy, TeachingHours, TeachingWeek

# The longest a meeting and its changeover may last: what starts before cannot reach into the window asked for.
REACH = timedelta(hours=12)
_CLOCK_STEP = 30


def policy_in_force(now: datetime) -> StudioPolicy:
    """The newest version whose day has come; Refused("invalid") where the school has none yet."""
    found = StudioPolicy.objects.filter(in_force_from__lte=now).order_by("-version").first()
    if found is None:
        raise Refused("invalid", "The school has no studio policy yet: an admin adds the first version.")
    return found


def offering_rules(offering: Offering, policy: Policy) -> OfferingRules:
    """The offering's length, changeover and grid, with the policy's defaults where it sets none."""
    changeover = offering.changeover_minutes
    if changeover is None:
        changeover = rules.changeover_minutes(policy, offering.minutes)
    grid = Grid(offering.grid)
    step = offering.step_minutes or (_CLOCK_STEP if grid is Grid.CLOCK else offering.minutes + changeover)
    return OfferingRules(minutes=offering.minutes, changeover_minutes=changeover, grid=grid, step_minutes=step)


def instructors_for(offering: Offering, level: int, instructor_id: int | None = None) -> list[Instructor]:
    """Those who teach it now at that level, by id."""
    rows = Instructor.objects.filter(
        is_active=True,
        user__is_active=True,
        teaches__offering=offering,
        teaches__lowest_level__lte=level,
        teaches__highest_level__gte=level,
    ).select_related("user", "week")
    if instructor_id is not None:
        rows = rows.filter(pk=instructor_id)
    return list(rows.order_by("pk"))


def teaching_time(ids: Sequence[int]) -> dict[int, TeachingTime]:
    """What each of these instructors has published: three queries."""
    weekly: dict[int, list[WeeklyWindow]] = defaultdict(list)
    extra: dict[int, list[DatedWindow]] = defaultdict(list)
    away: dict[int, list[Away]] = defaultdict(list)
    for window in TeachingHours.objects.filter(week__instructor__in=ids).select_related("week"):
        weekly[window.week.instructor_id].append(WeeklyWindow(window.weekday, window.opens, window.closes, str(window.week.time_zone)))
    for row in ExtraHours.objects.filter(instructor__in=ids):
        extra[row.instructor_id].append(DatedWindow(row.on, row.opens, row.closes, str(row.time_zone)))
    for day in DaysAway.objects.filter(instructor__in=ids):
        away[day.instructor_id].append(Away(day.first_on, day.last_on, str(day.time_zone)))
    return {i: TeachingTime(weekly=tuple(weekly[i]), extra=tuple(extra[i]), away=tuple(away[i])) for i in ids}


def _live_meetings(since: datetime, until: datetime) -> QuerySet[Meeting]:
    return Meeting.objects.exclude(status=MeetingStatus.CANCELLED).filter(
        starts_at__lt=until, starts_at__gt=since - REACH, held_until__gt=since
    )


def instructors_time(
    instructors: Iterable[Instructor], since: datetime, until: datetime, *, ignoring: int | None = None
) -> list[InstructorTime]:
    """Hours and meetings of these instructors over [since, until): four queries. `ignoring` is the meeting being moved.

    Where one of them learns here too, the lessons she takes count as hers.
    """
    rows = list(instructors)
    ids = [row.pk for row in rows]
    hours = teaching_time(ids)
    meetings: dict[int, list[Period]] = defaultdict(list)
    taken = _live_meetings(since, until).filter(instructor__in=ids).exclude(pk=ignoring or 0)
    learnt = _held(since, until, ignoring).filter(student__user__instructor__in=ids)
    both = (
        taken.order_by()
        .values_list("instructor_id", "starts_at", "held_until")
        .union(learnt.order_by().values_list("student__user__instructor", "starts_at", "ends_at"), all=True)
    )
    for owner, starts_at, held_until in both:
        meetings[owner].append(Period(starts_at, held_until))
    return [
        InstructorTime(id=row.pk, time_zone=zone_of_hours(row), teaching=hours[row.pk], meetings=tuple(meetings[row.pk])) for row in rows
    ]


def week_of(instructor: Instructor) -> TeachingWeek:
    """The instructor's week; an unsaved empty one, version 0, where she has published none."""
    found = TeachingWeek.objects.filter(instructor=instructor).prefetch_related("windows").first()
    return found or TeachingWeek(instructor=instructor, time_zone=instructor.user.time_zone)


def zone_of_hours(instructor: Instructor) -> str:
    """The IANA name of the clock her hours are published on; her own clock where she has published none."""
    week = getattr(instructor, "week", None)
    return str(week.time_zone) if week is not None else instructor.user.zone


def student_time(student: Student, since: datetime, until: datetime, *, ignoring: int | None = None) -> StudentTime:
    """A student's clock and the meetings she is held in, or teaches, over [since, until): one query."""
    held = _held(since, until, ignoring).filter(student=student).order_by().values_list("starts_at", "ends_at")
    if student.user_id is not None:
        taught = _live_meetings(since, until).filter(instructor__user=student.user_id).exclude(pk=ignoring or 0)
        held = held.union(taught.order_by().values_list("starts_at", "held_until"), all=True)
    return StudentTime(id=student.pk, time_zone=student.zone, adult_on=student.adult_on, meetings=tuple(Period(*period) for period in held))


def _held(since: datetime, until: datetime, ignoring: int | None) -> QuerySet[Booking]:
    rows = Booking.objects.filter(standing=Standing.HELD, starts_at__lt=until, starts_at__gt=since - REACH, ends_at__gt=since)
    return rows.exclude(meeting=ignoring or 0)
