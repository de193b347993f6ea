"""Group meetings and masterclasses: make one, change one."""

from collections.abc import Collection, Iterable
from datetime import datetime, timedelta

from accounts.models import Instructor, User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.rooms import check_join_address, is_address_in
from bookings.domain.timeline import CELL, EPOCH
from bookings.domain.vocabulary import MeetingStatus, PlaceKind, Standing
from bookings.models import Booking, Meeting, Offering, OutboxMessage, WaitingPlace
from bookings.operations.audit import record
from bookings.operations.calling_off import live_bookings, once_invited
from bookings.operations.consents import check_minor_hours
from bookings.operations.locks import lock_instructors, lock_meeting, lock_students
from bookings.operations.meeting_state import set_period
from bookings.operations.queues import offer_next
from bookings.operations.rooms import new_address
from bookings.queries.instructor_times import instructors_time
from bookings.queries.offerings import offering_rules
from bookings.queries.policies import policy_in_force
from bookings.queries.teaching import zone_of_hours

_AROUND = timedelta(days=1)
_SHOWN_IN_CALENDARS = {"title", "join_address", "starts_at"}


def create_meeting(
    *,
    actor: User,
    offering: Offering,
    instructor: Instructor,
    starts_at: datetime,
    title: str,
    places: int,
    listener_places: int = 0,
    join_address: str = "",
    now: datetime,
) -> Meeting:
    """Makes a group meeting at a time that the school chooses.

    It need not lie in teaching hours, but never on another meeting of the instructor. Refused:
    "wrong-kind", "not-taught", "naive-time", "past", "off-grid", "taken".
    """
    locked = lock_instructors([instructor.pk])[instructor.pk]
    _check_may_be_made(offering, locked)
    check_join_address(join_address)
    meeting = Meeting(
        offering=offering,
        title=title,
        status=MeetingStatus.CONFIRMED,
        places=places,
        listener_places=listener_places,
        join_address=join_address or new_address(locked.room),
        made_at=now,
    )
    _put(meeting, locked, starts_at, now=now)
    meeting.save(force_insert=True)
    record(actor=actor, verb="made", thing=meeting, now=now)
    outbox.enqueue(notices.meeting_made(meeting, now=now), now=now)
    return meeting


def _check_may_be_made(offering: Offering, instructor: Instructor) -> None:
    if offering.is_one_on_one:
        raise Refused(
            "wrong-kind",
            "A one-on-one is booked by its student; add a group meeting or a masterclass here.",
        )
    if not instructor.is_active:
        raise Refused(
            "not-taught", f"{instructor} does not teach here any more. Choose another instructor."
        )


def change_meeting(
    *,
    actor: User,
    meeting: Meeting,
    version: int | None = None,
    starts_at: datetime | None = None,
    title: str | None = None,
    places: int | None = None,
    listener_places: int | None = None,
    join_address: str | None = None,
    now: datetime,
) -> Meeting:
    """Changes what is not None. New places are offered to those who wait in the same step.

    An empty `join_address` stands for the instructor's room.

    Refused: "stale", "wrong-kind", "already-ended", "has-bookings" for fewer places than are taken,
    and for a new start as `create_meeting` and `check_minor_hours`.
    """
    instructor = lock_instructors([meeting.instructor_id])[meeting.instructor_id]
    current = lock_meeting(meeting.pk, version=version)
    _check_is_changeable(current, now)
    bookings = live_bookings(current)
    waiting = WaitingPlace.objects.for_meetings([current]).waiting()
    lock_students([*(booking.student_id for booking in bookings), *waiting.student_ids()])
    _check_places(current, places, listener_places)
    changed = _set(
        current,
        title=title,
        places=places,
        listener_places=listener_places,
        join_address=_address(current, instructor, join_address),
    )
    if starts_at is not None and starts_at != current.starts_at:
        _put(current, instructor, starts_at, now=now)
        _check_minors(bookings, current, now)
        changed.append("starts_at")
    if changed:
        _write(actor, current, bookings, changed, now)
    return current


def _check_is_changeable(meeting: Meeting, now: datetime) -> None:
    if meeting.offering.is_one_on_one:
        raise Refused("wrong-kind", "A one-on-one is moved by its booking.")
    if meeting.is_cancelled or meeting.starts_at <= now:
        raise Refused("already-ended", "This meeting has begun or has been called off.")


def _check_places(meeting: Meeting, places: int | None, listener_places: int | None) -> None:
    for name, wanted, taken in (
        ("places", places, meeting.taken),
        ("listener_places", listener_places, meeting.listeners_taken),
    ):
        if wanted is not None and wanted < taken:
            raise Refused(
                "has-bookings",
                f"{taken} places are taken: "
                "remove somebody from the roster before lowering the places.",
                field=name,
            )


def _address(meeting: Meeting, instructor: Instructor, wanted: str | None) -> str | None:
    if wanted is None:
        return None
    check_join_address(wanted)
    if wanted or is_address_in(instructor.room, meeting.join_address):
        return wanted or meeting.join_address
    return new_address(instructor.room)


def _set(meeting: Meeting, **wanted: object) -> list[str]:
    """Sets what is not None, in memory; returns the names of the fields that have changed."""
    changed = [
        name
        for name, value in wanted.items()
        if value is not None and value != getattr(meeting, name)
    ]
    for name in changed:
        setattr(meeting, name, wanted[name])
    return changed


def _check_minors(bookings: Iterable[Booking], meeting: Meeting, now: datetime) -> None:
    policy = policy_in_force(now)
    for booking in bookings:
        check_minor_hours(booking.student, meeting, policy)


def _write(
    actor: User,
    meeting: Meeting,
    bookings: Collection[Booking],
    changed: Collection[str],
    now: datetime,
) -> None:
    """Saves the changed meeting, moves its bookings with it, and tells those concerned."""
    is_told = not _SHOWN_IN_CALENDARS.isdisjoint(changed)
    if is_told:
        meeting.sequence += 1
        meeting.changed_at = now
    meeting.version += 1
    meeting.save()
    is_moved = "starts_at" in changed
    if is_moved:
        for booking in bookings:
            _move_along(booking, meeting)
    record(actor=actor, verb="changed", thing=meeting, fields=changed, now=now)
    messages = notices.meeting_changed(meeting, bookings, now=now) if is_told else []
    if is_moved:
        messages += _renewed_offers(bookings, now)
    for kind in PlaceKind:
        messages += offer_next(meeting, kind, now=now)
    outbox.enqueue(messages, now=now, shown_to=once_invited(meeting) if is_told else ())


def _move_along(booking: Booking, meeting: Meeting) -> None:
    """Copies the meeting's new time. An offer is answered by the start at the latest."""
    booking.meeting = meeting
    booking.starts_at, booking.ends_at = meeting.starts_at, meeting.ends_at
    if booking.answer_by is not None:
        booking.answer_by = min(booking.answer_by, meeting.starts_at)
    booking.is_flagged = False
    booking.version += 1
    booking.save(update_fields=["starts_at", "ends_at", "answer_by", "is_flagged", "version"])


def _renewed_offers(bookings: Iterable[Booking], now: datetime) -> list[OutboxMessage]:
    """The emails that repeat each open offer with the new time."""
    messages = []
    for booking in bookings:
        if booking.standing == Standing.OFFERED:
            outbox.withdraw_offer(booking.pk)
            messages += notices.offer_made(booking, now=now)
    return messages


def _put(meeting: Meeting, instructor: Instructor, starts_at: datetime, *, now: datetime) -> None:
    """Sets the instructor and the time, in memory, where the instructor is free."""
    if starts_at.tzinfo is None:
        raise Refused("naive-time", "Send the start with its offset, such as 2027-03-12T17:30:00Z.")
    if starts_at <= now:
        raise Refused("past", "Choose a start in the future.")
    if (starts_at - EPOCH) % CELL:
        raise Refused("off-grid", "Choose a start on whole five minutes.")
    rules = offering_rules(meeting.offering, policy_in_force(now).rules())
    ends_at = starts_at + timedelta(minutes=rules.minutes)
    held_until = ends_at + timedelta(minutes=rules.changeover_minutes)
    (time,) = instructors_time(
        [instructor], starts_at - _AROUND, held_until + _AROUND, ignoring=meeting.pk
    )
    if any(
        period.starts_at < held_until and starts_at < period.ends_at for period in time.meetings
    ):
        raise Refused(
            "taken",
            f"{instructor} has another meeting then, changeover included. Choose another time.",
        )
    meeting.instructor = instructor
    set_period(meeting, starts_at, ends_at, held_until, zone_of_hours(instructor))
    meeting.changed_at = now
