"""The kinds of messages. The values are stored."""

from enum import StrEnum


class MessageKind(StrEnum):
    """Why somebody is written to."""

    INVITATION = "invitation"
    CANCELLATION = "cancellation"
    REMINDER_DAY = "reminder-24h"
    REMINDER_HOUR = "reminder-1h"
    TOLD = "told"
    OFFER = "offer"
    OFFER_REMINDER = "offer-reminder"
    PLACE_FREE = "place-free"
    ASSESSMENT = "assessment"
    CONSENT = "consent"
    WELCOME = "welcome"
    RESET = "password-reset"
    ACCOUNT = "account"
    SECOND_FACTOR = "second-factor"
    SHIFT = "shift"
    FOLLOW_UP = "follow-up"


REMINDERS = (MessageKind.REMINDER_DAY, MessageKind.REMINDER_HOUR)
BY_DAY = (*REMINDERS, MessageKind.OFFER_REMINDER, MessageKind.FOLLOW_UP)
"""Never sent between 22:00 and 08:00 in the reader's zone, even where they are late."""
AHEAD = (*REMINDERS, MessageKind.OFFER_REMINDER, MessageKind.SHIFT)
"""Written long before they are sent, with times in the reader's zone of that day."""
OVERTAKEN = (MessageKind.INVITATION, MessageKind.CANCELLATION, *REMINDERS)
"""Replaced by a newer invitation or cancellation for the same person and meeting."""
TO_THE_CLOSED = (MessageKind.ACCOUNT, MessageKind.CANCELLATION)
"""Sent even to a closed account: that it is closed, and what leaves the person's calendar."""
HOLDS_A_SECRET = (MessageKind.CONSENT, MessageKind.WELCOME, MessageKind.RESET)
"""Their text opens an account or a consent form, so it is erased as soon as it is of no use."""
ASKED_ANEW = (MessageKind.RESET,)
"""Asked for again by the reader, so the office need not send one again that was given up."""
