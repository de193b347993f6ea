"""The counters of places on a meeting, moved under its lock together with the bookings they count."""

from bookings.domain.vocabulary import PlaceKind
from bookings.models import Meeting


def taken(meeting: Meeting, place_kind: PlaceKind) -> int:
    """How many places of that kind are held or offered."""
    return meeting.listeners_taken if place_kind == PlaceKind.LISTENER else meeting.taken


def places(meeting: Meeting, place_kind: PlaceKind) -> int:
    """How many places of that kind there are."""
    return meeting.listener_places if place_kind == PlaceKind.LISTENER else meeting.places


def count_place(meeting: Meeting, place_kind: PlaceKind, change: int) -> None:
    """Counts a place with the booking it belongs to; the database refuses a count beyond the places."""
    if place_kind == PlaceKind.LISTENER:
        meeting.listeners_taken += change
    else:
        meeting.taken += change
    meeting.version += 1
    meeting.save(update_fields=["taken", "listeners_taken", "version"])
