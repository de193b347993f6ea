"""Who waits for a place, and whether a free place is anybody's or somebody's turn."""

from collections.abc import Collection
from datetime import datetime

from django.db.models import QuerySet

from bookings.domain.policy import is_first_yes
from bookings.domain.vocabulary import PlaceKind
from bookings.models import Meeting, OutboxMessage, WaitingPlace
from bookings.outbox import MessageKind


def line(meeting: Meeting, place_kind: PlaceKind) -> QuerySet[WaitingPlace]:
    """Those who wait and have no offer, first in line first."""
    return waiting_in([meeting]).filter(place_kind=place_kind)


def waiting_in(meetings: Collection[Meeting]) -> QuerySet[WaitingPlace]:
    """The same for all of these meetings, players and listeners alike."""
    rows = WaitingPlace.objects.filter(
        meeting__in=meetings, ended_at__isnull=True, offer__isnull=True
    )
    return rows.select_related("student__user").order_by("joined_at", "id")


def is_anybodys(meeting: Meeting, place_kind: PlaceKind, *, now: datetime) -> bool:
    """Whether a free place is the first yes's: nobody waits, the start is too near for an offer, or all who wait were told so.

    It depends on those who wait and never on who asks, and what they have been told holds until the place is taken.
    """
    zones = [waiting.student.zone for waiting in line(meeting, place_kind)]
    if not zones or is_first_yes(now, meeting.starts_at, zones):
        return True
    return (meeting.pk, place_kind.value) in announced([meeting])


def announced(meetings: Collection[Meeting]) -> set[tuple[int, str]]:
    """Meeting and kind of place of which all who waited have been told that the first yes has it."""
    told = OutboxMessage.objects.filter(
        kind=MessageKind.PLACE_FREE, meeting__in=meetings
    ).values_list("meeting_id", "state_key")
    return {
        (meeting_id, state_key.split(":")[1])
        for meeting_id, state_key in told
        if meeting_id is not None
    }
