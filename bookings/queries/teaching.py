"""Instructors' and students' time as the pure core wants it, in a fixed number of queries whatever the size."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from typing import Any

from django.db.models import DateField, Exists, F, OuterRef, QuerySet, Value

from accounts.models import Instructor, Student
from bookings.access import not_there
from bookings.domain import policy as rules
from bookings.domain.errors import Refused
from bookings.domain.hours import Away, DatedWindow, TeachingTime, WeeklyWindow
from bookings.domain.load import TAUGHT_AROUND
from bookings.domain.policy import Policy
from bookings.domain.slots import InstructorTime, OfferingRules, StudentTime
from bookings.domain.timeline import EPOCH, Period
from bookings.domain.vocabulary import Grid, Kind, MeetingStatus, NoteState, Standing
from bookings.models import (
    LIVE,
    Assessment,
    Booking,
    BusyPeriod,
    DaysAway,
    ExtraHours,
    LoadAllowance,
    Meeting,
    Offering,
    StudioPolicy,
    TeachingHours,
    TeachingWeek,
)
from bookings.queries.prepared import prepared

# The longest a meeting and its changeover may last: what starts before cannot reach into the window asked for.
REACH = timedelta(hours=12)
_CLOCK_STEP = 30
_UNMARKED_EPOCH = EPOCH.replace(tzinfo=None)


def policy_in_force(now: datetime) -> StudioPolicy:
    """The newest version whose day has come; Refused("invalid") where the school has none yet."""
    found = StudioPolicy.objects.filter(in_force_from__lte=now).order_by("-version").first()
    if found is None:
        raise Refused(
            "invalid", "The school has no studio policy yet: an admin adds the first version."
        )
    return found


def newest_policy() -> StudioPolicy | None:
    """The version added last, in force or not yet."""
    return StudioPolicy.objects.order_by("-version").first()


def offering_rules(offering: Offering, policy: Policy) -> OfferingRules:
    """The offering's length, changeover and grid, with the policy's defaults where it sets none."""
    changeover = offering.changeover_minutes
    if changeover is None:
        changeover = rules.changeover_minutes(policy, offering.minutes)
    grid = Grid(offering.grid)
    step = offering.step_minutes or (
        _CLOCK_STEP if grid is Grid.CLOCK else offering.minutes + changeover
    )
    return OfferingRules(
        minutes=offering.minutes, changeover_minutes=changeover, grid=grid, step_minutes=step
    )


def open_offerings() -> list[Offering]:
    """All that can be booked: one query."""
    return list(Offering.objects.filter(is_open=True))


def shortest_minutes(offerings: Iterable[Offering], policy: Policy) -> int | None:
    """The shortest one-on-one of these with its changeover: a gap of less is of no use to anybody."""
    return min(
        (
            offering_rules(offering, policy).held_minutes
            for offering in offerings
            if offering.is_one_on_one
        ),
        default=None,
    )


def instructors_for(
    offering: Offering, level: int, instructor_id: int | None = None
) -> list[Instructor]:
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


@prepared
def _published(ids: tuple[int, ...]) -> QuerySet[ExtraHours, Any]:
    nobody, no_date = Value(0), Value(None, DateField())
    # The weekly windows come last: PostgreSQL takes the type of an empty column from the rows before.
    return (
        ExtraHours.objects.filter(instructor__in=ids)
        .order_by()
        .values_list(
            Value("extra"), "instructor_id", "on", F("on"), nobody, "opens", "closes", "time_zone"
        )
        .union(
            DaysAway.objects.filter(instructor__in=ids)
            .order_by()
            .values_list(
                Value("away"),
                "instructor_id",
                "first_on",
                "last_on",
                nobody,
                Value(0),
                Value(0),
                "time_zone",
            ),
            TeachingHours.objects.filter(week__instructor__in=ids)
            .order_by()
            .values_list(
                Value("weekly"),
                "week__instructor_id",
                no_date,
                no_date,
                "weekday",
                "opens",
                "closes",
                "week__time_zone",
            ),
            all=True,
        )
    )


def teaching_time(ids: Sequence[int]) -> dict[int, TeachingTime]:
    """What each of these instructors has published: one query."""
    weekly: dict[int, list[WeeklyWindow]] = defaultdict(list)
    extra: dict[int, list[DatedWindow]] = defaultdict(list)
    away: dict[int, list[Away]] = defaultdict(list)
    for kind, owner, first_on, last_on, weekday, opens, closes, time_zone in (
        _published(tuple(ids)) if ids else []
    ):
        if kind == "weekly":
            weekly[owner].append(WeeklyWindow(weekday, opens, closes, str(time_zone)))
        elif kind == "extra":
            extra[owner].append(DatedWindow(first_on, opens, closes, str(time_zone)))
        else:
            away[owner].append(Away(first_on, last_on, str(time_zone)))
    return {
        i: TeachingTime(weekly=tuple(weekly[i]), extra=tuple(extra[i]), away=tuple(away[i]))
        for i in ids
    }


def _live_meetings(reached: datetime, since: datetime, until: datetime) -> QuerySet[Meeting]:
    """Those of [since, until), `reached` being `since` less REACH."""
    return Meeting.objects.exclude(status=MeetingStatus.CANCELLED).filter(
        starts_at__lt=until, starts_at__gt=reached, held_until__gt=since
    )


def teacher(
    instructor_id: int, *, taken_within: tuple[datetime, datetime] | None = None
) -> Instructor:
    """An instructor who teaches now; Refused("not-found") otherwise.

    With `taken_within`, their `seems_taken` says whether a live meeting of theirs lies in that
    half-open period: one query for both, which the first look of a booking needs.
    """
    rows = Instructor.objects.select_related("user", "week")
    if taken_within is not None:
        rows = rows.annotate(seems_taken=_taken_within(*taken_within))
    found = rows.filter(pk=instructor_id, is_active=True).first()
    if found is None:
        raise not_there()
    return found


def _taken_within(since: datetime, until: datetime) -> Exists:
    """Whether a live meeting of the instructor whom a query reads lies in [since, until)."""
    return Exists(_live_meetings(since - REACH, since, until).filter(instructor=OuterRef("pk")))


def _held(
    reached: datetime, since: datetime, until: datetime, ignoring: int | None
) -> QuerySet[Booking]:
    rows = Booking.objects.filter(
        standing=Standing.HELD, starts_at__lt=until, starts_at__gt=reached, ends_at__gt=since
    )
    return rows if ignoring is None else rows.exclude(meeting=ignoring)


def _in_utc(stored: datetime) -> datetime:
    """SQLite gives UTC without saying so. Adding is six times as fast as `replace`."""
    return stored if stored.tzinfo is not None else EPOCH + (stored - _UNMARKED_EPOCH)


def _rows_in_utc(rows: list[tuple[Any, ...]]) -> list[tuple[Any, ...]]:
    """Rows of a kind, an owner and three instants, in UTC: written out, for a search reads ten thousand of them."""
    if not rows or rows[0][2].tzinfo is not None:
        return rows
    return [
        (
            kind,
            owner,
            since := EPOCH + (first - _UNMARKED_EPOCH),
            since + (second - first),
            since + (third - first),
        )
        for kind, owner, first, second, third in rows
    ]


@prepared
def _lives(
    ids: tuple[int, ...],
    first: datetime,
    past: datetime,
    reached: datetime,
    since: datetime,
    until: datetime,
    ignoring: int | None,
) -> QuerySet[Meeting, Any]:
    taken = _live_meetings(reached, since, until).filter(instructor__in=ids).order_by()
    taken = taken if ignoring is None else taken.exclude(pk=ignoring)
    learnt = (
        _held(reached, since, until, ignoring).filter(student__user__instructor__in=ids).order_by()
    )
    waived = LoadAllowance.objects.filter(
        instructor__in=ids, starts_at__gte=since, starts_at__lt=until
    ).order_by()
    busy = BusyPeriod.objects.filter(
        calendar__owner__instructor__in=ids, starts_at__lt=past, ends_at__gt=first
    ).order_by()
    return taken.values_list(
        Value("taught"), "instructor_id", "starts_at", "ends_at", "held_until"
    ).union(
        learnt.values_list(
            Value("learnt"), "student__user__instructor", "starts_at", "ends_at", F("ends_at")
        ),
        waived.values_list(
            Value("allowed"), "instructor_id", "starts_at", F("starts_at"), F("starts_at")
        ),
        busy.values_list(
            Value("busy"), "calendar__owner__instructor", "starts_at", "ends_at", F("ends_at")
        ),
        all=True,
    )


def instructors_time(
    instructors: Iterable[Instructor],
    since: datetime,
    until: datetime,
    *,
    ignoring: int | None = None,
) -> list[InstructorTime]:
    """Hours, meetings, load and its exceptions, busy time of these instructors for starts in [since, until): two queries.

    Meetings are read from eight days before to eight days after, as load rules ask. `ignoring` is the meeting being moved.
    Where one of them learns here too, the lessons she takes count as hers, and not as taught.
    """
    rows = list(instructors)
    ids = [row.pk for row in rows]
    hours = teaching_time(ids)
    first, past = since, until
    since, until = since - TAUGHT_AROUND, until + TAUGHT_AROUND
    busy: dict[int, list[Period]] = defaultdict(list)
    held: dict[int, list[Period]] = defaultdict(list)
    taught: dict[int, list[Period]] = defaultdict(list)
    allowed: dict[int, list[datetime]] = defaultdict(list)
    found = _lives(tuple(ids), first, past, since - REACH, since, until, ignoring) if ids else []
    for kind, owner, starts_at, ends_at, free_at in _rows_in_utc(found):
        if kind == "taught":
            held[owner].append(Period(starts_at, free_at))
            taught[owner].append(Period(starts_at, ends_at))
        elif kind == "learnt":
            held[owner].append(Period(starts_at, free_at))
        elif kind == "busy":
            busy[owner].append(Period(starts_at, ends_at))
        else:
            allowed[owner].append(starts_at)
    return [
        InstructorTime(
            id=row.pk,
            time_zone=zone_of_hours(row),
            teaching=hours[row.pk],
            meetings=tuple(held[row.pk]),
            busy=tuple(busy[row.pk]),
            taught=tuple(taught[row.pk]),
            allowed=frozenset(allowed[row.pk]),
        )
        for row in rows
    ]


def week_of(instructor: Instructor) -> TeachingWeek:
    """The instructor's week; an unsaved empty one, version 0, where she has published none."""
    found = TeachingWeek.objects.filter(instructor=instructor).prefetch_related("windows").first()
    return found or TeachingWeek(instructor=instructor, time_zone=instructor.user.time_zone)


def zone_of_hours(instructor: Instructor) -> str:
    """The IANA name of the clock her hours are published on; her own clock where she has published none."""
    week = getattr(instructor, "week", None)
    return str(week.time_zone) if week is not None else instructor.user.zone


@prepared
def _student(
    pk: int,
    user: int | None,
    reached: datetime,
    since: datetime,
    until: datetime,
    ignoring: int | None,
    open_after: datetime | None,
) -> QuerySet[Booking, Any]:
    held = _held(reached, since, until, ignoring).filter(student=pk).order_by()
    latest = (
        Assessment.objects.filter(student=pk, state=NoteState.RELEASED)
        .order_by("-released_at", "-id")
        .values("pk")[:1]
    )
    heard = Assessment.objects.filter(pk__in=latest).order_by()
    others: list[Any] = [
        heard.values_list(Value("heard"), "released_at", F("released_at"), "author_id", "pk")
    ]
    spare = Value(0), Value(0)
    if user is not None:
        taught = _live_meetings(reached, since, until).filter(instructor__user=user).order_by()
        taught = taught if ignoring is None else taught.exclude(pk=ignoring)
        others.append(taught.values_list(Value("taken"), "starts_at", "held_until", *spare))
    # Of her account, and of herself from the time before she had one: two arms, since an OR over a join reads the whole table.
    for whose in ({"calendar__student": pk}, {"calendar__owner": user}):
        if None not in whose.values():
            busy = BusyPeriod.objects.filter(
                **whose, starts_at__lt=until, ends_at__gt=since
            ).order_by()
            others.append(busy.values_list(Value("busy"), "starts_at", "ends_at", *spare))
    if open_after is not None:
        ahead = Booking.objects.filter(
            student=pk, standing__in=LIVE, starts_at__gt=open_after
        ).order_by()
        consultations = ahead.filter(meeting__offering__kind=Kind.CONSULTATION)
        others.append(consultations.values_list(Value("open"), "starts_at", "ends_at", *spare))
    return held.values_list(Value("taken"), "starts_at", "ends_at", *spare).union(*others, all=True)


def student_time(
    student: Student,
    since: datetime,
    until: datetime,
    *,
    ignoring: int | None = None,
    open_after: datetime | None = None,
) -> StudentTime:
    """A student's clock, the meetings she is held in, or teaches, and her busy time over [since, until), and who heard her last: one query.

    Her open consultations are counted where `open_after` says from when on.
    """
    rows = _student(student.pk, student.user_id, since - REACH, since, until, ignoring, open_after)
    heard_by, heard_in = next(
        ((author, note) for kind, _, _, author, note in rows if kind == "heard"), (None, None)
    )
    return StudentTime(
        id=student.pk,
        time_zone=student.zone,
        adult_on=student.adult_on,
        meetings=tuple(
            Period(_in_utc(starts_at), _in_utc(ends_at))
            for kind, starts_at, ends_at, _, _ in rows
            if kind == "taken"
        ),
        busy=tuple(
            Period(_in_utc(starts_at), _in_utc(ends_at))
            for kind, starts_at, ends_at, _, _ in rows
            if kind == "busy"
        ),
        heard_by=heard_by,
        heard_in=heard_in,
        open_consultations=sum(kind == "open" for kind, *_ in rows),
    )
