"""Emails about a child, taken back from a guardian who no longer answers for them."""

from collections.abc import Iterable
from datetime import datetime

from accounts.models import Guardianship
from bookings import notices, outbox
from bookings.models import Meeting, OutboxMessage
from bookings.queries.barring import places_beside

State = OutboxMessage.State


def take_back_emails(
    guardianship: Guardianship,
    emails: Iterable[OutboxMessage],
    *,
    out: Iterable[Meeting] = (),
    now: datetime,
) -> None:
    """Takes these emails back, so that none leaves.

    An unsent invitation to a meeting in which another child of theirs has a place is written anew.
    The meetings of `out` leave the guardian's calendar, but for those.
    """
    rows = list(emails)
    outbox.take_back([row.pk for row in rows])
    beside = places_beside(guardianship, now=now)
    invitations = {
        row.meeting_id
        for row in rows
        if row.method == "REQUEST" and row.state in (State.DUE, State.GIVEN_UP)
    }
    messages = notices.guardian_barred(
        guardianship.guardian,
        out=[meeting for meeting in out if meeting not in beside],
        again={meeting: own for meeting, own in beside.items() if meeting.pk in invitations},
        now=now,
    )
    outbox.enqueue(messages, now=now)
