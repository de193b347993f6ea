"""The register: who was present in a meeting."""

from collections.abc import Mapping
from datetime import datetime

from accounts.models import User
from bookings import outbox
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Attendance
from bookings.models import Booking, Mark, Meeting
from bookings.operations.audit import record
from bookings.operations.locks import lock_meeting


def mark_register(
    *,
    actor: User,
    meeting: Meeting,
    marks: Mapping[int, Attendance],
    version: int | None = None,
    now: datetime,
) -> Meeting:
    """Sets the attendance of these bookings, by id. Marking again corrects it.

    Refused: "already-ended" where the meeting is called off, "not-yet" before it starts, "invalid"
    with `strangers` for bookings that hold no place in it, "stale".
    """
    current = lock_meeting(meeting.pk, version=version)
    if current.is_cancelled:
        raise Refused("already-ended", "This meeting was called off; nobody came.")
    if now < current.starts_at:
        raise Refused("not-yet", "The register opens when the meeting starts.")
    held = {row.pk: row for row in Booking.objects.in_meetings([current]).held()}
    strangers = sorted(set(marks) - set(held))
    if strangers:
        raise Refused(
            "invalid", "Some of these bookings hold no place in this meeting.", strangers=strangers
        )
    marker = current.instructor if current.instructor.user_id == actor.pk else None
    for pk, attendance in sorted(marks.items()):
        Mark.objects.update_or_create(
            booking=held[pk],
            defaults={"attendance": attendance, "marked_by": marker, "marked_at": now},
        )
    current.version += 1
    current.save(update_fields=["version"])
    outbox.take_back_follow_ups(current.instructor.user_id)
    record(actor=actor, verb="marked", thing=current, fields=["register"], now=now)
    return current
