"""Group meetings and masterclasses: make one, change one."""

from collections.abc import Collection, Iterable
from datetime import datetime

from accounts.models import Instructor, User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.minimums import Minimum
from bookings.domain.rooms import check_join_address, is_address_in
from bookings.domain.vocabulary import MeetingStatus, PlaceKind, Standing
from bookings.models import Booking, Meeting, Offering, OutboxMessage, WaitingPlace
from bookings.operations.audit import record
from bookings.operations.calling_off import live_bookings, once_invited
from bookings.operations.carried import carry_moved
from bookings.operations.changing import set_given
from bookings.operations.consents import check_minor_hours
from bookings.operations.group_starts import judge_group_start, put_at
from bookings.operations.level_bands import band_for, changed_band
from bookings.operations.locks import lock_instructors, lock_meeting, lock_students
from bookings.operations.meeting_state import check_lies_ahead, move_along
from bookings.operations.minimums import check_minimum_fits, put_minimum
from bookings.operations.queues import offer_next
from bookings.operations.rooms import new_address
from bookings.queries.policies import policy_in_force

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
    minimum: Minimum | None = None,
    lowest_level: int | None = None,
    highest_level: int | None = None,
    players_are_chosen: bool = False,
    now: datetime,
) -> Meeting:
    """Refused: "wrong-kind", and as `judge_group_start`, `band_for` and `put_minimum`."""
    locked = lock_instructors([instructor.pk])[instructor.pk]
    _check_is_for_groups(offering)
    start = judge_group_start(
        actor=actor, offering=offering, instructor=locked, starts_at=starts_at, now=now
    )
    check_join_address(join_address)
    lowest, highest = band_for(offering, locked, lowest_level, highest_level)
    meeting = Meeting(
        offering=offering,
        title=title,
        status=MeetingStatus.CONFIRMED,
        places=places,
        listener_places=listener_places,
        lowest_level=lowest,
        highest_level=highest,
        players_are_chosen=players_are_chosen,
        join_address=join_address or new_address(locked.room),
        made_at=now,
    )
    put_at(meeting, locked, start, actor=actor, now=now)
    put_minimum(meeting, minimum, now=now)
    return _added(actor, meeting, now)


def _added(actor: User, meeting: Meeting, now: datetime) -> Meeting:
    meeting.save(force_insert=True)
    record(actor=actor, verb="made", thing=meeting, now=now)
    outbox.enqueue(notices.meeting_made(meeting, now=now), now=now)
    return meeting


def _check_is_for_groups(offering: Offering) -> None:
    if offering.is_one_on_one:
        raise Refused(
            "wrong-kind",
            "A one-on-one is booked by its student; add a group meeting or a masterclass here.",
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
    lowest_level: int | None = None,
    highest_level: int | None = None,
    players_are_chosen: bool | None = None,
    now: datetime,
) -> Meeting:
    """Changes what is not None. New places are offered to those who wait in the same step.

    An empty `join_address` stands for the instructor's room. Refused: "stale", "wrong-kind",
    "already-ended", "has-bookings" for fewer places than are taken, for a new start as
    `judge_group_start` and `check_minor_hours`, and as `changed_band` and `check_minimum_fits`.
    """
    instructor, current, bookings = _locked(meeting, version, now)
    _check_places(current, places, listener_places)
    changed = set_given(
        current,
        **changed_band(current, bookings, lowest_level, highest_level),
        title=title,
        places=places,
        listener_places=listener_places,
        players_are_chosen=players_are_chosen,
        join_address=_address(current, instructor, join_address),
    )
    if starts_at is not None and starts_at != current.starts_at:
        _put(actor, current, instructor, starts_at, now)
        _check_minors(bookings, current, now)
        changed.append("starts_at")
    check_minimum_fits(current)
    if changed:
        _write(actor, current, bookings, changed, now)
    return current


def _locked(
    meeting: Meeting, version: int | None, now: datetime
) -> tuple[Instructor, Meeting, list[Booking]]:
    """The instructor, the meeting and its live bookings; their students are locked with those who
    wait.
    """
    instructor = lock_instructors([meeting.instructor_id])[meeting.instructor_id]
    current = lock_meeting(meeting.pk, version=version)
    _check_is_changeable(current, now)
    bookings = live_bookings(current)
    waiting = WaitingPlace.objects.for_meetings([current]).waiting()
    lock_students([*(booking.student_id for booking in bookings), *waiting.student_ids()])
    return instructor, current, bookings


def _check_is_changeable(meeting: Meeting, now: datetime) -> None:
    if meeting.offering.is_one_on_one:
        raise Refused("wrong-kind", "A one-on-one is moved by its booking.")
    check_lies_ahead(meeting, now)


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
    """Saves the changed meeting with its bookings, and tells those concerned."""
    if "players_are_chosen" in changed:
        meeting.choice_closed_at = None
    is_told = not _SHOWN_IN_CALENDARS.isdisjoint(changed)
    if is_told:
        meeting.sequence += 1
        meeting.changed_at = now
    meeting.version += 1
    meeting.save()
    is_moved = "starts_at" in changed
    if is_moved:
        for booking in bookings:
            move_along(booking, meeting)
        carry_moved(bookings)
    record(actor=actor, verb="changed", thing=meeting, fields=changed, now=now)
    messages = notices.meeting_changed(meeting, bookings, now=now) if is_told else []
    if is_moved:
        messages += _renewed_offers(bookings, now)
    for kind in PlaceKind:
        messages += offer_next(meeting, kind, now=now)
    outbox.enqueue(messages, now=now, shown_to=once_invited([meeting]) if is_told else ())


def _renewed_offers(bookings: Iterable[Booking], now: datetime) -> list[OutboxMessage]:
    """The emails that repeat each open offer with the new time."""
    messages = []
    for booking in bookings:
        if booking.standing == Standing.OFFERED:
            outbox.withdraw_offer(booking.pk)
            messages += notices.offer_made(booking, now=now)
    return messages


def _put(
    actor: User, meeting: Meeting, instructor: Instructor, starts_at: datetime, now: datetime
) -> None:
    """Sets the new time, in memory."""
    start = judge_group_start(
        actor=actor,
        offering=meeting.offering,
        instructor=instructor,
        starts_at=starts_at,
        moving=meeting,
        now=now,
    )
    put_at(meeting, instructor, start, actor=actor, now=now)
