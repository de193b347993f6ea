"""An instructor's online room. A new address reaches the meetings ahead, in one email a family."""

import secrets
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from accounts.models import Instructor, User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.rooms import address_in, check_room, is_address_in, is_own_address
from bookings.models import ONE_ON_ONE, Booking, Meeting, OutboxMessage, SentSequence
from bookings.operations.audit import record
from bookings.operations.locks import lock_instructors, lock_meetings, lock_students
from bookings.outbox import MessageKind


@dataclass(frozen=True, slots=True)
class ChangedRoom:
    """The instructor with the new room, and the meetings ahead that have it now, by start."""

    instructor: Instructor
    meetings: list[Meeting]


def change_room(
    *, actor: User, instructor: Instructor, room: str, seen: str | None = None, now: datetime
) -> ChangedRoom:
    """Gives the new address to every one-on-one ahead, and to group meetings in the old room.

    `room` may be a template: each meeting then gets an address of its own (`new_address`).
    `seen` is the address that the caller read. Refused: "stale" where it is another one by now,
    "invalid" as `domain.rooms.check_room`.
    """
    check_room(room)
    locked = lock_instructors([instructor.pk])[instructor.pk]
    if seen is not None and seen != locked.room:
        raise Refused(
            "stale", "The room has changed since you read it. Read it again, then decide."
        )
    meetings = _locked_ahead(locked, room, now)
    if locked.room != room:
        locked.room = room
        locked.save(update_fields=["room"])
        record(actor=actor, verb="changed room", thing=locked, fields=["room"], now=now)
    lock_students(Booking.objects.in_meetings(meetings).held().student_ids())
    _move_in(meetings, locked, actor=actor, now=now)
    return ChangedRoom(locked, meetings)


def renew_addresses(*, actor: User, meetings: Iterable[int], now: datetime) -> None:
    """Gives each of these live meetings (by id) ahead a new address, if its room makes one a
    meeting, and tells who is in it. The caller holds the locks.
    """
    rows = Meeting.objects.not_called_off().ahead(now).filter(pk__in=meetings)
    by_instructor: dict[Instructor, list[Meeting]] = {}
    for meeting in rows.select_related("offering", "instructor__user").order_by("starts_at", "pk"):
        if is_own_address(meeting.instructor.room, meeting.join_address):
            by_instructor.setdefault(meeting.instructor, []).append(meeting)
    for instructor, theirs in by_instructor.items():
        _move_in(theirs, instructor, actor=actor, now=now)


def new_address(room: str) -> str:
    """An address for a new meeting in this room. In a template, `{token}` becomes 144 random bits,
    so that nobody who knows one address guesses the next.
    """
    return address_in(room, secrets.token_urlsafe(18))


def _move_in(
    meetings: Sequence[Meeting], instructor: Instructor, *, actor: User, now: datetime
) -> None:
    """Gives these meetings an address in the instructor's room, and tells everybody in them."""
    for meeting in meetings:
        meeting.instructor, meeting.join_address = instructor, new_address(instructor.room)
        meeting.sequence += 1
        meeting.version += 1
        meeting.changed_at = now
        record(actor=actor, verb="changed", thing=meeting, fields=["join_address"], now=now)
    Meeting.objects.bulk_update(meetings, ["join_address", "sequence", "version", "changed_at"])
    held = _held(meetings)
    outbox.withdraw([f"meeting:{meeting.pk}" for meeting in meetings])  # reminders of the old room
    messages = notices.room_changed(
        instructor, meetings, held, unsent=_unsent(meetings), actor=actor, now=now
    )
    outbox.enqueue(messages, now=now)
    invited = SentSequence.objects.filter(meeting__in=meetings).values_list("recipient_id")
    outbox.bump_feeds({instructor.user_id, *(pk for (pk,) in invited)}, now=now)


def _locked_ahead(instructor: Instructor, room: str, now: datetime) -> list[Meeting]:
    """The meetings ahead that get the new room, locked, by start.

    A group meeting keeps a room of its own.
    """
    rows = Meeting.objects.not_called_off().taught_by(instructor).ahead(now)
    changing = [
        pk
        for pk, address, kind in rows.values_list("pk", "join_address", "offering__kind")
        if (kind in ONE_ON_ONE or is_address_in(instructor.room, address))
        and not is_address_in(room, address)
    ]
    found = lock_meetings(changing).values()
    live = [meeting for meeting in found if not meeting.is_cancelled]
    return sorted(live, key=lambda meeting: (meeting.starts_at, meeting.pk))


def _held(meetings: Sequence[Meeting]) -> list[Booking]:
    by_id = {meeting.pk: meeting for meeting in meetings}
    rows = Booking.objects.in_meetings(meetings).held().with_student()
    held = list(rows.order_by("starts_at", "pk"))
    for booking in held:
        booking.meeting = by_id[booking.meeting_id]
    return held


def _unsent(meetings: Sequence[Meeting]) -> set[tuple[int, int]]:
    """(reader, meeting), by id, of invitations that still wait to be sent."""
    rows = OutboxMessage.objects.unsent().filter(meeting__in=meetings, kind=MessageKind.INVITATION)
    return {(reader, meeting or 0) for reader, meeting in rows.values_list("recipient", "meeting")}
