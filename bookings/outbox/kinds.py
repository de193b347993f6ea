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
    NEW_ADDRESS = "new-address"
    SECOND_FACTOR = "second-factor"
    SHIFT = "shift"
    FOLLOW_UP = "follow-up"
    OWED_REMINDER = "owed-reminder"
    ADDRESS = "address"


REMINDERS = (MessageKind.REMINDER_DAY, MessageKind.REMINDER_HOUR)
BY_DAY = (
    *REMINDERS,
    MessageKind.OFFER_REMINDER,
    MessageKind.FOLLOW_UP,
    MessageKind.OWED_REMINDER,
)
"""Never sent between 22:00 and 08:00 in the reader's zone, even where they are late."""
AHEAD = (*REMINDERS, MessageKind.OFFER_REMINDER, MessageKind.SHIFT)
"""Written long before they are sent, with times in the reader's zone of that day."""
OVERTAKEN = (MessageKind.INVITATION, MessageKind.CANCELLATION, *REMINDERS)
"""Replaced by a newer invitation or cancellation for the same person and meeting."""
TO_THE_CLOSED = (MessageKind.ACCOUNT, MessageKind.CANCELLATION)
"""Sent even to a closed account: that it is closed, and what leaves the person's calendar."""
HOLDS_A_SECRET = (
    MessageKind.CONSENT,
    MessageKind.WELCOME,
    MessageKind.RESET,
    MessageKind.NEW_ADDRESS,
)
"""Their text opens an account or a form, so it is erased as soon as it is of no use."""
ASKED_ANEW = (MessageKind.RESET, MessageKind.ADDRESS)
"""Asked for again by the reader, so the office need not send one again that was given up."""
ALWAYS_SENT = (MessageKind.ACCOUNT, MessageKind.SECOND_FACTOR)
"""News of the account, sent even to an address that cannot be reached: it may be the last way to
notice a stranger.
"""
ONCE_A_DAY = (MessageKind.RESET, MessageKind.ADDRESS, MessageKind.NEW_ADDRESS)
"""Sent to such an address once in 24 hours: they let their reader in, and prove the address."""
NAMES_ITS_ADDRESS = (MessageKind.ACCOUNT, MessageKind.WELCOME, MessageKind.NEW_ADDRESS)
"""Meant for the address that each names, whatever the reader's address is by now."""
