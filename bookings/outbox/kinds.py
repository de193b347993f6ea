"""What a message is for; the values are stored."""

from enum import StrEnum


class MessageKind(StrEnum):
    """One word for each reason to write to somebody."""

    INVITATION = "invitation"
    CANCELLATION = "cancellation"
    REMINDER_DAY = "reminder-24h"
    REMINDER_HOUR = "reminder-1h"
    TOLD = "told"
    OFFER = "offer"
    PLACE_FREE = "place-free"
    ASSESSMENT = "assessment"
    CONSENT = "consent"
    WELCOME = "welcome"
    SHIFT = "shift"


REMINDERS = (MessageKind.REMINDER_DAY, MessageKind.REMINDER_HOUR)
# A newer invitation or cancellation for the same person and meeting makes the unsent ones of these pointless.
OVERTAKEN = (MessageKind.INVITATION, MessageKind.CANCELLATION, *REMINDERS)
# Their text holds a key to an account or a consent, so it goes as soon as it has been sent.
HOLDS_A_SECRET = (MessageKind.CONSENT, MessageKind.WELCOME)
