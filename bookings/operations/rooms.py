"""The usual online room of an instructor: a meeting takes its address when it is made."""

from datetime import datetime

from accounts.models import Instructor, User
from bookings.access import require_admin
from bookings.operations.audit import record
from bookings.operations.locks import lock_instructors


def change_room(*, actor: User, instructor: Instructor, room: str, now: datetime) -> Instructor:
    """Another room, or none, for meetings that are made from now on."""
    require_admin(actor)
    current = lock_instructors([instructor.pk])[instructor.pk]
    if current.room != room:
        current.room = room
        current.save(update_fields=["room"])
        record(actor=actor, verb="changed", thing=current, fields=["room"], now=now)
    return current
