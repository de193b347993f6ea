"""How many players a meeting with a minimum to run has."""

from datetime import datetime

from django.db.models import Q

from bookings.domain.vocabulary import PlaceKind, Standing
from bookings.models import Booking, Meeting


def players_at(meeting: Meeting, instant: datetime) -> int:
    """How many players held a place at that instant.

    Who has left since counts, and who has booked since does not: a late decision is the same. An
    open offer does not count; one that was accepted counts from the offer on.
    """
    rows = Booking.objects.in_meetings([meeting]).filter(
        place_kind=PlaceKind.PLAYER, booked_at__lte=instant, answer_by__isnull=True
    )
    still_in = Q(standing=Standing.HELD) | Q(standing=Standing.ENDED, ended_at__gt=instant)
    return rows.filter(still_in).count()
