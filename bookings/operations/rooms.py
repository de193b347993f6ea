"""An instructor's online room. A new address reaches the meetings ahead, in one email a family."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from accounts.models import Instructor, User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.models import Booking, Meeting, OutboxMessage, SentSequence
from bookings.operations.audit import record
from bookings.operations.locks import lock_instructors, lock_meetings, lock_students
from bookings.outbox import MessageKind

LONGEST = 300


@dataclass(frozen=True, slots=True)
class ChangedRoom:
    """The instructor with the new room, and the meetings ahead that have it now, by start."""

    instructor: Instructor
    meetings: list[Meeting]


def change_room(
    *, actor: User, instructor: Instructor, room: str, seen: str | None = None, now: datetime
) -> ChangedRoom:
    """Gives the new address to every one-on-one ahead, and to group meetings in the old room.

    `seen` is the address that the caller read. Refused: "stale" where it is another one by now,
    "invalid" for no web address.
    """
    _check_address(room)
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
    _move_in(meetings, locked, actor, now)
    held = _held(meetings)
    lock_students([booking.student_id for booking in held])
    outbox.withdraw([f"meeting:{meeting.pk}" for meeting in meetings])  # reminders of the old room
    messages = notices.room_changed(
        locked, meetings, held, unsent=_unsent(meetings), actor=actor, now=now
    )
    outbox.enqueue(messages, now=now)
    invited = SentSequence.objects.filter(meeting__in=meetings).values_list("recipient_id")
    outbox.bump_feeds({locked.user_id, *(pk for (pk,) in invited)}, now=now)
    return ChangedRoom(locked, meetings)


def _check_address(room: str) -> None:
    is_on_the_web = room.startswith("https://") and len(room) > len("https://")
    if not is_on_the_web or any(c.isspace() for c in room) or len(room) > LONGEST:
        raise Refused(
            "invalid",
            f"Send an address of up to {LONGEST} characters that begins with https://.",
            field="room",
        )


def _locked_ahead(instructor: Instructor, room: str, now: datetime) -> list[Meeting]:
    """The meetings ahead that get the new room, locked, by start.

    A group meeting keeps a room of its own.
    """
    rows = Meeting.objects.not_called_off().taught_by(instructor).ahead(now)
    changing = rows.one_on_one() | rows.filter(join_address=instructor.room)
    other = changing.exclude(join_address=room)
    found = lock_meetings(other.values_list("pk", flat=True)).values()
    live = [meeting for meeting in found if not meeting.is_cancelled]
    return sorted(live, key=lambda meeting: (meeting.starts_at, meeting.pk))


def _move_in(
    meetings: Sequence[Meeting], instructor: Instructor, actor: User, now: datetime
) -> None:
    for meeting in meetings:
        meeting.instructor, meeting.join_address = instructor, instructor.room
        meeting.sequence += 1
        meeting.version += 1
        meeting.changed_at = now
        record(actor=actor, verb="changed", thing=meeting, fields=["join_address"], now=now)
    Meeting.objects.bulk_update(meetings, ["join_address", "sequence", "version", "changed_at"])


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
