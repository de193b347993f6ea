"""Weekly places: take one for a term, leave it, move it with the sibling's that follows. All its lessons or none."""

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from accounts.models import Instructor, Student, User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.policy import cancel_by
from bookings.domain.vocabulary import Ended, MeetingStatus, PartStat, PlaceKind, Standing
from bookings.domain.weekly import HeldDate, WeeklyTime
from bookings.domain.zones import zone
from bookings.models import Booking, Meeting, Offering, Term, WeeklyPlace
from bookings.operations.audit import record
from bookings.operations.booking import cancel_meeting, end, set_period
from bookings.operations.consents import check_consent
from bookings.operations.locks import lock_meetings, lock_students, lock_teachers
from bookings.queries.notes import latest_released
from bookings.queries.teaching import offering_rules, policy_in_force, zone_of_hours
from bookings.queries.weekly import judge, next_place, open_places


def take_weekly_place(
    *,
    actor: User,
    student: Student,
    instructor: Instructor,
    offering: Offering,
    term: Term,
    weekday: int,
    wall_at: int,
    without: Iterable[date] = (),
    now: datetime,
) -> WeeklyPlace:
    """A lesson on each date of the term, at `wall_at` (minutes of the day) of the instructor's clock; `without` are dates given up.

    Breaks and days away are skipped. Refused("term-dates") with `dates` where any other date cannot be had: then nothing is held.
    """
    locked = lock_teachers([instructor.pk], [student])[instructor.pk]
    her = lock_students([student.pk])[student.pk]
    check_consent(her, now=now)
    place = WeeklyPlace(
        term=term,
        student=her,
        instructor=locked,
        offering=offering,
        weekday=weekday,
        wall_at=wall_at,
    )
    taken = _take(place, without, actor=actor, now=now)
    outbox.enqueue(notices.weekly_changed(taken=[taken], now=now), now=now)
    return place


def leave_weekly_place(
    *,
    actor: User,
    place: WeeklyPlace,
    version: int | None = None,
    said: str = "",
    now: datetime,
) -> WeeklyPlace:
    """Ends the lessons ahead whose notice has not passed, by the policy each was booked under; the others stay and are said.

    `said` is a sentence for those who are told.
    """
    bookings = _lock([place], now)
    current = _current(place, version)
    left = _leave(current, bookings, why=Ended.LEFT, actor=actor, now=now)
    outbox.enqueue(notices.weekly_changed(left=[left], said=said, now=now), now=now)
    return current


def move_weekly_place(
    *,
    actor: User,
    place: WeeklyPlace,
    weekday: int,
    wall_at: int,
    next_wall_at: int | None = None,
    without: Iterable[date] = (),
    version: int | None = None,
    now: datetime,
) -> list[WeeklyPlace]:
    """Leaves the place and takes another with the same instructor for the rest of the term, in one step and one message.

    `next_wall_at` moves the sibling's place that follows it as well, to that minute of the same weekday; Refused("conflict")
    where none follows any more. Lessons whose notice has passed stay; a week that has had its lesson, or keeps it, gets no other.
    """
    moving = [place]
    if next_wall_at is not None:
        following = next_place(place, actor, now=now)
        if following is None:
            raise Refused(
                "conflict",
                "No sibling's place follows this one any more. Look at the options again.",
                field="next_wall_at",
            )
        moving.append(following)
    bookings = _lock(moving, now)
    olds = [_current(old, version if old is place else None) for old in moving]
    left = [_leave(old, bookings, why=Ended.MOVED, actor=actor, now=now) for old in olds]
    given_up, taken = set(without), list[notices.Taken]()
    for old, ended, minute in zip(olds, left, (wall_at, next_wall_at or 0), strict=False):
        check_consent(old.student, now=now)
        new = WeeklyPlace(
            term=old.term,
            student=old.student,
            instructor=old.instructor,
            offering=old.offering,
            weekday=weekday,
            wall_at=minute,
        )
        held = Booking.objects.filter(
            meeting__weekly_place=old, standing=Standing.HELD
        ).values_list("meeting__wall_on", flat=True)
        had = _weeks_of(held) - _weeks_of(booking.meeting.wall_on for booking in ended.ended)
        taken.append(_take(new, given_up | had, actor=actor, now=now))
    outbox.enqueue(notices.weekly_changed(left=left, taken=taken, now=now), now=now)
    return [change.place for change in taken]


def _take(
    place: WeeklyPlace, without: Iterable[date], *, actor: User, now: datetime
) -> notices.Taken:
    """Judges every date under the locks and writes the place with its meetings and bookings."""
    place.policy, place.time_zone = policy_in_force(now), zone(zone_of_hours(place.instructor))
    option = judge(
        term=place.term,
        offering=place.offering,
        student=place.student,
        instructor=place.instructor,
        at=WeeklyTime(place.weekday, place.wall_at),
        without=without,
        policy=place.policy,
        now=now,
    )
    if option.failed:
        dates = [
            {"on": day.on.isoformat(), "code": day.code, "detail": day.detail}
            for day in option.failed
        ]
        said = ", ".join(f"{day.on.day} {day.on:%B}" for day in option.failed)
        raise Refused(
            "term-dates",
            f"Nothing is booked, because these dates are not available: {said}. Give them up, or choose another time.",
            dates=dates,
        )
    if not option.held:
        raise Refused(
            "term-dates",
            "No such day is left in this term: choose another weekday or term.",
            dates=[],
        )
    place.made_at, place.made_by = now, actor
    # The term stays as it is until the commit. Locked after the students and only to write, for many take places in one term.
    if not Term.objects.select_for_update(no_key=True).filter(
        pk=place.term_id, version=place.term.version
    ):
        raise Refused(
            "conflict", "The term has just been changed. Look at its dates again, then decide."
        )
    place.save(force_insert=True)
    meetings = Meeting.objects.bulk_create(_meeting(place, day, now) for day in option.held)
    note = latest_released(place.student)
    bookings = Booking.objects.bulk_create(
        Booking(
            meeting=meeting,
            student=place.student,
            place_kind=PlaceKind.PLAYER,
            standing=Standing.HELD,
            starts_at=meeting.starts_at,
            ends_at=meeting.ends_at,
            policy=place.policy,
            booked_by=actor,
            booked_at=now,
            partstat=PartStat.ACCEPTED,
            assessment=note,
        )
        for meeting in meetings
    )
    record(actor=actor, verb="took weekly place", thing=place, now=now)
    return notices.Taken(place, bookings)


def _meeting(place: WeeklyPlace, day: HeldDate, now: datetime) -> Meeting:
    meeting = Meeting(
        offering=place.offering,
        instructor=place.instructor,
        weekly_place=place,
        status=MeetingStatus.CONFIRMED,
        places=1,
        taken=1,
        join_address=place.instructor.room,
        made_at=now,
        changed_at=now,
    )
    changeover = offering_rules(place.offering, place.policy.rules()).changeover_minutes
    set_period(
        meeting, day.starts_at, day.ends_at, day.ends_at + timedelta(minutes=changeover), place.zone
    )
    return meeting


def _lock(places: list[WeeklyPlace], now: datetime) -> list[Booking]:
    """The live bookings ahead of these places, everything locked in the written order. A moved lesson may be another instructor's."""
    ahead = Booking.objects.filter(
        meeting__weekly_place__in=places, standing=Standing.HELD, starts_at__gt=now
    )
    found = list(ahead.values_list("meeting_id", "meeting__instructor_id"))
    teachers = [
        *(place.instructor_id for place in places),
        *(instructor_id for _, instructor_id in found),
    ]
    lock_teachers(teachers, [place.student for place in places])
    meetings = lock_meetings([meeting_id for meeting_id, _ in found])
    lock_students([place.student_id for place in places])
    bookings = list(
        ahead.filter(meeting__in=meetings)
        .select_related("policy", "student__user")
        .order_by("starts_at")
    )
    for booking in bookings:
        booking.meeting = meetings[booking.meeting_id]
    return bookings


def _current(place: WeeklyPlace, version: int | None) -> WeeklyPlace:
    """The place as it stands under the locks."""
    current = open_places(WeeklyPlace.objects.filter(pk=place.pk)).first()
    if current is None:
        raise Refused("already-ended", "This weekly place has already been given up.")
    if version is not None and current.version != version:
        raise Refused(
            "stale", "The weekly place has changed since you read it. Read it again, then decide."
        )
    return current


def _leave(
    place: WeeklyPlace, bookings: list[Booking], *, why: Ended, actor: User, now: datetime
) -> notices.Left:
    ended, kept = [], []
    for booking in bookings:
        if booking.meeting.weekly_place_id != place.pk:
            continue
        if now > cancel_by(booking.policy.rules(), booking.starts_at):
            kept.append(booking)
            continue
        cancel_meeting(booking.meeting, why="", now=now)
        booking.meeting.taken = 0
        booking.meeting.save()
        end(booking, why=why, now=now)
        ended.append(booking)
    place.ended_at, place.ended_why = now, why
    place.version += 1
    place.save(update_fields=["ended_at", "ended_why", "version"])
    outbox.withdraw(
        [f"weekly-place:{place.pk}", *(f"meeting:{booking.meeting_id}" for booking in ended)]
    )
    record(actor=actor, verb="left weekly place", thing=place, fields=["ended_at"], now=now)
    return notices.Left(place, ended, kept)


def _weeks_of(dates: Iterable[date]) -> set[date]:
    """Monday to Sunday around each date."""
    return {on + timedelta(days=day - on.weekday()) for on in dates for day in range(7)}
