"""What a change of a group meeting would do, shown before it is saved.

The change itself is carried out and taken back, so that the preview asks every rule and holds the
very emails.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from accounts.models import User
from bookings.domain.vocabulary import PlaceKind, Standing
from bookings.models import Booking, LoadAllowance, Meeting, OutboxMessage, WaitingPlace
from bookings.operations.meetings import change_meeting
from bookings.operations.previews import taken_back
from bookings.outbox import AHEAD


@dataclass(frozen=True, slots=True)
class ChangePreview:
    """The meeting as it would be, how many are in it, and the emails that would leave at once.

    `players`, `listeners`, `offers` and `waiting` count those in the meeting before the change.
    `is_allowed_anew` says that the instructor, who acts, would allow a start beyond their hours,
    days away or load.
    """

    meeting: Meeting
    players: int
    listeners: int
    offers: int
    waiting: int
    is_moved: bool
    is_allowed_anew: bool
    emails: list[OutboxMessage]


def preview_change(
    *, actor: User, meeting: Meeting, version: int | None, now: datetime, **wanted: Any
) -> ChangePreview:
    """What `change_meeting` would do with these arguments. Refused as it would be."""
    return taken_back(lambda: _carried_out(actor, meeting, version, now, wanted))


def _carried_out(
    actor: User, meeting: Meeting, version: int | None, now: datetime, wanted: dict[str, Any]
) -> ChangePreview:
    live = Booking.objects.in_meetings([meeting]).live()
    held = live.held()
    counts = {
        "players": held.filter(place_kind=PlaceKind.PLAYER).count(),
        "listeners": held.filter(place_kind=PlaceKind.LISTENER).count(),
        "offers": live.filter(standing=Standing.OFFERED).count(),
        "waiting": WaitingPlace.objects.for_meetings([meeting]).waiting().without_offer().count(),
    }
    allowed = LoadAllowance.objects.filter(instructor=meeting.instructor_id)
    allowed_before, last = allowed.count(), _last_email()
    changed = change_meeting(actor=actor, meeting=meeting, version=version, now=now, **wanted)
    emails = OutboxMessage.objects.emails().filter(pk__gt=last).exclude(kind__in=AHEAD)
    return ChangePreview(
        meeting=changed,
        **counts,
        is_moved=changed.starts_at != meeting.starts_at,
        is_allowed_anew=allowed.count() > allowed_before,
        emails=list(emails.select_related("recipient").order_by("recipient__name", "pk")),
    )


def _last_email() -> int:
    row = OutboxMessage.objects.order_by("-pk").values_list("pk", flat=True).first()
    return row or 0
