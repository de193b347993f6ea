"""The register: who was present in a meeting. Every mark is written here."""

from collections.abc import Mapping
from datetime import datetime

from accounts.models import User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Attendance
from bookings.models import Booking, Mark, Meeting, RegisterEntry
from bookings.operations.audit import record
from bookings.operations.locks import lock_meeting, lock_students
from bookings.operations.owed_state import owe_for


def mark_register(
    *,
    actor: User,
    meeting: Meeting,
    marks: Mapping[int, Attendance],
    others: Attendance | None = None,
    version: int | None = None,
    now: datetime,
) -> Meeting:
    """Sets the attendance of these bookings, by id, and of all others that are not marked yet.

    Marking again corrects: the mark says the present word, and an entry is added beside the first
    one. Who is marked so already is left alone. `others` is None where the rest stays unmarked.

    Refused: "already-ended" where the meeting is called off, "not-yet" before it starts, "invalid"
    with `strangers` for bookings that hold no place in it, "stale", and "owed-settled" where a
    correction takes back an owed lesson that has been used.
    """
    current = lock_meeting(meeting.pk, version=version)
    if current.is_cancelled:
        raise Refused("already-ended", "This meeting was called off; nobody came.")
    if now < current.starts_at:
        raise Refused("not-yet", "The register opens when the meeting starts.")
    held = _held_in(current)
    strangers = sorted(set(marks) - set(held))
    if strangers:
        raise Refused(
            "invalid", "Some of these bookings hold no place in this meeting.", strangers=strangers
        )
    stored = {pk: row.mark.attendance for pk, row in held.items() if hasattr(row, "mark")}
    rest = {pk: others for pk in held if others is not None and pk not in stored}
    changed = {pk: said for pk, said in {**rest, **marks}.items() if stored.get(pk) != said}
    if changed:
        _enter(actor, current, {held[pk]: said for pk, said in changed.items()}, now)
        current.version += 1
        current.save(update_fields=["version"])
        outbox.take_back_follow_ups(current.instructor.user_id)
        record(actor=actor, verb="marked", thing=current, fields=["register"], now=now)
    return current


def _held_in(meeting: Meeting) -> dict[int, Booking]:
    """The bookings that hold a place, by id, each with its mark."""
    rows = Booking.objects.in_meetings([meeting]).held().with_details()
    rows = rows.select_related("mark")
    return {row.pk: row for row in rows.order_by("pk")}


def _enter(
    actor: User, meeting: Meeting, changed: Mapping[Booking, Attendance], now: datetime
) -> None:
    """Sets the present words, keeps each beside what was entered before it, and owes what follows
    from it.
    """
    lock_students([booking.student_id for booking in changed])
    marker = meeting.instructor if meeting.instructor.user_id == actor.pk else None
    for booking, attendance in changed.items():
        Mark.objects.update_or_create(
            booking=booking,
            defaults={"attendance": attendance, "marked_by": marker, "marked_at": now},
        )
        owed = owe_for(booking, actor=actor, now=now)
        if owed is not None and owed.owed_at == now:
            outbox.enqueue(notices.lesson_owed(owed, now=now), now=now)
    RegisterEntry.objects.bulk_create(
        RegisterEntry(booking=booking, attendance=attendance, entered_by=actor, entered_at=now)
        for booking, attendance in changed.items()
    )
