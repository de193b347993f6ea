"""Emails that could not be delivered, for whoever runs the school."""

from dataclasses import dataclass
from datetime import datetime

from bookings import outbox
from bookings.outbox import MessageKind

MOST_SHOWN = 20
_ABOUT = {
    MessageKind.INVITATION: "an invitation to a calendar",
    MessageKind.CANCELLATION: "a cancellation",
    MessageKind.REMINDER_DAY: "a reminder",
    MessageKind.REMINDER_HOUR: "a reminder",
    MessageKind.OFFER: "an offered place",
    MessageKind.OFFER_REMINDER: "a reminder of an offered place",
    MessageKind.PLACE_FREE: "a free place",
    MessageKind.ASSESSMENT: "a new assessment",
    MessageKind.CONSENT: "a request for consent",
    MessageKind.WELCOME: "an invitation to the school",
    MessageKind.RESET: "a link for a new password",
    MessageKind.ACCOUNT: "a change of an account",
    MessageKind.NEW_ADDRESS: "a link that confirms a new address",
    MessageKind.SHIFT: "a new local time",
    MessageKind.FOLLOW_UP: "lessons to finish",
    MessageKind.OWED_REMINDER: "a reminder of an owed lesson",
    MessageKind.ADDRESS: "an email that proves an address",
}


@dataclass(frozen=True, slots=True)
class Undelivered:
    """One email that was given up: its address, subject matter, instant and kind of failure."""

    to_address: str
    about: str
    at: datetime
    why: str


def undelivered(now: datetime) -> list[Undelivered]:
    """Emails given up in the last week, newest first, at most 20."""
    rows = outbox.given_up_lately(now).only("to_address", "kind", "due_at", "last_error")
    return [
        Undelivered(
            row.to_address,
            about_of(row.kind),
            row.due_at,
            row.last_error,
        )
        for row in rows[:MOST_SHOWN]
    ]


def about_of(kind: str) -> str:
    """The subject matter of an email of this kind, in words."""
    return _ABOUT.get(MessageKind(kind), "a change")
