"""Changes of a meeting's time, status and count of places. The caller holds its lock."""

from datetime import datetime

from bookings.domain.errors import Refused
from bookings.domain.vocabulary import MeetingStatus, PlaceKind
from bookings.domain.zones import TZDATA_VERSION, zone
from bookings.models import Booking, Meeting


def check_lies_ahead(meeting: Meeting, now: datetime) -> None:
    """Refused("already-ended") for a meeting that has begun or was called off."""
    if meeting.is_cancelled or meeting.starts_at <= now:
        raise Refused("already-ended", "This meeting has begun or has been called off.")


def set_period(
    meeting: Meeting, starts_at: datetime, ends_at: datetime, held_until: datetime, time_zone: str
) -> None:
    """Sets the promised wall time in this zone and the instants (UTC) that follow from it.

    In memory; the caller saves. The rules have just allowed this time, so a flag is cleared.
    """
    local = starts_at.astimezone(zone(time_zone))
    meeting.wall_on = local.date()
    meeting.wall_at = local.time().replace(fold=0)
    meeting.fold = local.fold
    meeting.time_zone = zone(time_zone)
    meeting.starts_at, meeting.ends_at, meeting.held_until = starts_at, ends_at, held_until
    meeting.minutes = int((ends_at - starts_at).total_seconds()) // 60
    meeting.tzdata_version = TZDATA_VERSION
    meeting.is_flagged, meeting.flagged_why = False, ""


def mark_cancelled(meeting: Meeting, *, why: str, now: datetime) -> None:
    """Marks the meeting as cancelled, in memory. The caller sets its count of places and saves."""
    meeting.status = MeetingStatus.CANCELLED
    meeting.called_off_why = why
    meeting.sequence += 1
    meeting.version += 1
    meeting.changed_at = now


def count_place(meeting: Meeting, place_kind: PlaceKind, change: int) -> None:
    """Counts a place that a booking takes (1) or frees (-1), and saves.

    The database refuses more taken places than the meeting has.
    """
    if place_kind == PlaceKind.LISTENER:
        meeting.listeners_taken += change
    else:
        meeting.taken += change
    meeting.version += 1
    meeting.save(update_fields=["taken", "listeners_taken", "version"])


def move_along(booking: Booking, meeting: Meeting) -> None:
    """Copies the meeting's new time. An offer is answered by the start at the latest. When a player
    must leave was said about the old time, and is forgotten.
    """
    booking.meeting = meeting
    booking.starts_at, booking.ends_at = meeting.starts_at, meeting.ends_at
    if booking.answer_by is not None:
        booking.answer_by = min(booking.answer_by, meeting.starts_at)
    booking.leaves_by = None
    booking.is_flagged = False
    booking.version += 1
    booking.save(
        update_fields=["starts_at", "ends_at", "answer_by", "leaves_by", "is_flagged", "version"]
    )
