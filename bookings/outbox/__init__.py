"""Messages: written in the transaction of their cause, then sent in order and at least once.

`enqueue` joins the caller's transaction. `drain` claims, sends and marks in three steps; it never
sends inside a transaction.
"""

from bookings.outbox.kinds import MessageKind
from bookings.outbox.nudging import Messenger, Sweeper, nudge, register_notifier
from bookings.outbox.rows import (
    bump_feeds,
    enqueue,
    erase_old_bodies,
    given_up_lately,
    oldest_due,
    send_to,
    take_back,
    take_back_ahead,
    take_back_follow_ups,
    withdraw,
    withdraw_form,
    withdraw_offer,
    withdraw_proposal,
    withdraw_resets,
)
from bookings.outbox.sending import claim, drain, send

__all__ = [
    "MessageKind",
    "Messenger",
    "Sweeper",
    "bump_feeds",
    "claim",
    "drain",
    "enqueue",
    "erase_old_bodies",
    "given_up_lately",
    "nudge",
    "oldest_due",
    "register_notifier",
    "send",
    "send_to",
    "take_back",
    "take_back_ahead",
    "take_back_follow_ups",
    "withdraw",
    "withdraw_form",
    "withdraw_offer",
    "withdraw_proposal",
    "withdraw_resets",
]
