"""Requests to move a lesson."""

from bookings.models import Booking, MoveRequest


def open_request(booking: Booking) -> MoveRequest | None:
    """What a family has asked for and nobody has answered yet."""
    return MoveRequest.objects.unanswered().filter(booking=booking).first()
