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
# Not between 22:00 and 08:00 of the reader's clock, however long they were held up.
BY_DAY = (*REMINDERS, MessageKind.OFFER_REMINDER, MessageKind.FOLLOW_UP)
# Written long before they leave, on the clock that their reader then has.
AHEAD = (*REMINDERS, MessageKind.OFFER_REMINDER, MessageKind.SHIFT)
# A newer invitation or cancellation for the same person and meeting makes the unsent ones of these pointless.
OVERTAKEN = (MessageKind.INVITATION, MessageKind.CANCELLATION, *REMINDERS)
# What somebody whose account is closed is still sent: that it is closed, and what leaves their
# calendar.
TO_THE_CLOSED = (MessageKind.ACCOUNT, MessageKind.CANCELLATION)
# Their text holds a key to an account or a consent, so it goes as soon as it has been sent or will
# never be.
HOLDS_A_SECRET = (MessageKind.CONSENT, MessageKind.WELCOME, MessageKind.RESET)
# Whoever needs another one asks for it, so one that is given up is not kept for the office to send
# again.
ASKED_ANEW = (MessageKind.RESET,)
