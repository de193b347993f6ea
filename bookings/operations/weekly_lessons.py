"""The lessons of a weekly place: written when it is taken, ended when it is given up."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta

from accounts.models import User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.policy import cancel_by
from bookings.domain.vocabulary import Ended, MeetingStatus, PartStat, PlaceKind, Standing
from bookings.domain.weekly import HeldDate, WeeklyTime
from bookings.domain.zones import zone
from bookings.models import Booking, Meeting, Term, WeeklyPlace
from bookings.operations.audit import record
from bookings.operations.booking_state import end_booking
from bookings.operations.exchange_state import withdraw_place
from bookings.operations.meeting_state import mark_cancelled, set_period
from bookings.operations.owed_state import pass_promises_on
from bookings.operations.rooms import new_address
from bookings.queries.notes import latest_released
from bookings.queries.offerings import offering_rules
from bookings.queries.policies import policy_in_force
from bookings.queries.teaching import zone_of_hours
from bookings.queries.weekly import judge


def take_place(
    place: WeeklyPlace, without: Iterable[date], *, actor: User, now: datetime
) -> notices.Taken:
    """Judges every date of an unsaved place, then saves the place with its meetings and bookings.
    Lessons owed since another place ended with its instructor pass to it.

    `without` are dates that the family gives up. The caller holds the locks of the instructor and
    the student. Refused("term-dates") with `dates` where any other date is not available.
    """
    place.policy, place.time_zone = policy_in_force(now), zone(zone_of_hours(place.instructor))
    dates = _available_dates(place, without, now)
    place.made_at, place.made_by, place.promised = now, actor, len(dates)
    _lock_term(place.term)
    place.save(force_insert=True)
    meetings = Meeting.objects.bulk_create(_meeting(place, day, now) for day in dates)
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
    passed = pass_promises_on(place, bookings, actor=actor, now=now)
    return notices.Taken(place, bookings, passed)


def _available_dates(
    place: WeeklyPlace, without: Iterable[date], now: datetime
) -> Sequence[HeldDate]:
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
        days = ", ".join(f"{day.on.day} {day.on:%B}" for day in option.failed)
        raise Refused(
            "term-dates",
            f"Nothing is booked, because these dates are not available: {days}. "
            "Give them up, or choose another time.",
            dates=[
                {"on": day.on.isoformat(), "code": day.code, "detail": day.detail}
                for day in option.failed
            ],
        )
    if not option.held:
        raise Refused(
            "term-dates",
            "No such day is left in this term: choose another weekday or term.",
            dates=[],
        )
    return option.held


def _lock_term(term: Term) -> None:
    """Keeps the term's dates as they were judged until the commit.

    It is locked late, after the students, because many take places in the same term at once.
    """
    rows = Term.objects.select_for_update(no_key=True)
    if not rows.filter(pk=term.pk, version=term.version):
        raise Refused(
            "conflict", "The term has just been changed. Look at its dates again, then decide."
        )


def _meeting(place: WeeklyPlace, day: HeldDate, now: datetime) -> Meeting:
    meeting = Meeting(
        offering=place.offering,
        instructor=place.instructor,
        weekly_place=place,
        status=MeetingStatus.CONFIRMED,
        places=1,
        taken=1,
        join_address=new_address(place.instructor.room),
        made_at=now,
        changed_at=now,
    )
    changeover = offering_rules(place.offering, place.policy.rules()).changeover_minutes
    held_until = day.ends_at + timedelta(minutes=changeover)
    set_period(meeting, day.starts_at, day.ends_at, held_until, place.zone)
    return meeting


def give_up_place(
    place: WeeklyPlace, bookings: Iterable[Booking], *, why: Ended, actor: User, now: datetime
) -> notices.Left:
    """Ends a locked place and those of the `bookings` that are its lessons.

    A lesson whose cancellation deadline has passed is kept.
    """
    ended, kept = [], []
    for booking in bookings:
        if booking.meeting.weekly_place_id != place.pk:
            continue
        if now > cancel_by(booking.policy.rules(), booking.starts_at):
            kept.append(booking)
            continue
        mark_cancelled(booking.meeting, why="", now=now)
        booking.meeting.taken = 0
        booking.meeting.save()
        end_booking(booking, why=why, now=now)
        ended.append(booking)
    place.ended_at, place.ended_why = now, why
    place.promised -= len(ended)
    place.version += 1
    place.save(update_fields=["ended_at", "ended_why", "promised", "version"])
    outbox.withdraw(
        [f"weekly-place:{place.pk}", *(f"meeting:{booking.meeting_id}" for booking in ended)]
    )
    withdraw_place(place, actor=actor, now=now)
    record(actor=actor, verb="left weekly place", thing=place, fields=["ended_at"], now=now)
    return notices.Left(place, ended, kept)
