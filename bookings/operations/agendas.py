"""The order of players of a masterclass: when somebody must leave, and the order published."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from accounts.models import User
from bookings import notices, outbox
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.domain.planning.agenda import Agenda, check_leaves_by
from bookings.domain.vocabulary import Kind, PlaceKind, Standing
from bookings.models import Booking, Meeting
from bookings.operations.audit import record
from bookings.operations.booking_state import current_booking
from bookings.operations.calling_off import live_bookings, once_invited
from bookings.operations.lengthening import check_may_end, lengthen
from bookings.operations.locks import hold_teachers, lock_meeting, lock_meetings, lock_students
from bookings.queries.agendas import PublishedAgenda, agenda_of, minutes_of, work_out

_STORED = ("turn", "turn_minutes", "turn_early", "leaves_by")


@dataclass(frozen=True, slots=True)
class PlayerSaid:
    """What an admin says of one player. `leaves_by` None: they can stay to the end."""

    minutes: int
    leaves_by: datetime | None


def publish_agenda(
    *,
    actor: User,
    meeting: Meeting,
    said: Mapping[int, PlayerSaid],
    version: int | None = None,
    now: datetime,
) -> Meeting:
    """Works the order out, stores it with the bookings, and tells each player once.

    `said` is by booking; whoever is not in it keeps what is stored. An order that is published
    already is not told again. One that ends after the meeting makes the meeting longer, and then
    everybody in it is told. Refused: "not-allowed", "stale", as `check_has_agenda` and
    `proposed_agenda`.
    """
    require_admin(actor)
    hold_teachers([meeting.instructor_id], agenda_of(meeting).people)
    current = lock_meeting(meeting.pk, version=version)
    check_has_agenda(current, now)
    published = agenda_of(current)
    lock_students(student.pk for student in published.people)
    players = published.players
    before = [_stored(booking) for booking in players]
    found = proposed_agenda(published, said, now=now)
    begins = _put_in_order(players, found)
    if [_stored(booking) for booking in players] == before:
        return current
    _save(current, players)
    if found.ends_at > current.ends_at:
        lengthen(current, found.ends_at, now=now)
        fields, shown_to = [*_STORED, "ends_at"], once_invited([current])
        messages = notices.agenda_lengthens(current, begins, live_bookings(current), now=now)
    else:
        fields, shown_to = [*_STORED], once_invited([current]).none()
        messages = notices.agenda_published(current, begins, ends_at=found.ends_at, now=now)
    record(actor=actor, verb="published agenda", thing=current, fields=fields, now=now)
    outbox.enqueue(messages, now=now, shown_to=shown_to)
    return current


def _put_in_order(players: Sequence[Booking], found: Agenda) -> dict[Booking, datetime]:
    """Gives each player their turn, in memory; returns when each turn begins, in order."""
    by_student = {booking.student_id: booking for booking in players}
    begins = {}
    for number, turn in enumerate(found.turns, start=1):
        booking = by_student[turn.student_id]
        begins[booking] = turn.starts_at
        booking.turn, booking.turn_minutes = number, minutes_of(booking)
        booking.turn_early = turn.early.value if turn.early else ""
    return begins


def proposed_agenda(
    published: PublishedAgenda, said: Mapping[int, PlayerSaid], *, now: datetime
) -> Agenda:
    """The order with what an admin says of these players, whom it changes in memory only.

    Refused: "not-found" with `strangers` for bookings that are no player's here, and as `work_out`
    and `check_may_end`.
    """
    meeting, players = published.meeting, published.players
    strangers = sorted(set(said) - {booking.pk for booking in players})
    if strangers:
        raise Refused("not-found", "Name players of this meeting.", strangers=strangers)
    for booking in players:
        if booking.pk in said:
            theirs = said[booking.pk]
            if theirs.leaves_by is not None:
                check_leaves_by(theirs.leaves_by, meeting.starts_at, meeting.ends_at)
            booking.turn_minutes, booking.leaves_by = theirs.minutes, theirs.leaves_by
    found = work_out(meeting, players)
    check_may_end(meeting, [*players, *published.listeners], found.ends_at, now=now)
    return found


def check_has_agenda(meeting: Meeting, now: datetime) -> None:
    """Refused: "wrong-kind" for any other meeting than a masterclass, "already-ended" for one that
    is called off, "past" once it has begun.
    """
    if meeting.offering.kind != Kind.MASTERCLASS:
        raise Refused("wrong-kind", "Only the players of a masterclass have an order.")
    if meeting.is_cancelled:
        raise Refused("already-ended", "This meeting has been called off.")
    if meeting.starts_at <= now:
        raise Refused("past", "The meeting has begun. Its order stays as it is.")


def say_leaves_by(
    *,
    actor: User,
    booking: Booking,
    leaves_by: datetime | None,
    version: int | None = None,
    now: datetime,
) -> Booking:
    """Notes by when a player has to be done; None where they can stay to the end.

    Refused: "stale", as `check_has_agenda` and `check_leaves_by`, "wrong-kind" for a listener,
    "already-ended" where the place is not held.
    """
    meeting = lock_meetings([booking.meeting_id])[booking.meeting_id]
    current = current_booking(booking, version=version)
    check_has_agenda(meeting, now)
    if current.place_kind != PlaceKind.PLAYER:
        raise Refused("wrong-kind", "Only players have a turn. Listeners may leave at any time.")
    if current.standing != Standing.HELD:
        raise Refused("already-ended", "This place is not yours any more, or not yet.")
    if leaves_by is not None:
        check_leaves_by(leaves_by, meeting.starts_at, meeting.ends_at)
    if leaves_by == current.leaves_by:
        return current
    current.leaves_by = leaves_by
    _save(meeting, [current])
    record(actor=actor, verb="said when they leave", thing=current, fields=["leaves_by"], now=now)
    return current


def _stored(booking: Booking) -> tuple[object, ...]:
    return tuple(getattr(booking, name) for name in _STORED)


def _save(meeting: Meeting, bookings: Sequence[Booking]) -> None:
    """Saves what the order is made of. The meeting's version says that its order has changed."""
    for booking in bookings:
        booking.version += 1
        booking.save(update_fields=[*_STORED, "version"])
    meeting.version += 1
    meeting.save(update_fields=["version"])
