"""Messages: written in the transaction of their cause, then sent in order and at least once.

`enqueue` joins the caller's transaction. `drain` claims, sends and marks in three steps; it never
sends inside a transaction.
"""

from bookings.outbox.deliveries import (
    claim_delivery,
    deliveries_wait,
    enqueue_events,
    enqueue_test,
    mark_delivered,
    mark_failed,
)
from bookings.outbox.kinds import AHEAD, MessageKind
from bookings.outbox.nudging import Messenger, Sweeper, nudge, register_notifier
from bookings.outbox.rows import (
    bump_feeds,
    enqueue,
    given_up_lately,
    oldest_due,
    send_to,
    take_back,
    take_back_ahead,
    take_back_follow_ups,
    take_back_owed_reminders,
    withdraw,
    withdraw_asked,
    withdraw_form,
    withdraw_offer,
    withdraw_question,
    withdraw_resets,
)
from bookings.outbox.sending import claim, drain, send
from bookings.outbox.tracing import id_for, return_path, sealed_id, traced
from bookings.outbox.troubles import (
    hold_again,
    let_go,
    mark,
    note_trouble,
    release,
    withdraw_proofs,
)

__all__ = [
    "AHEAD",
    "MessageKind",
    "Messenger",
    "Sweeper",
    "bump_feeds",
    "claim",
    "claim_delivery",
    "deliveries_wait",
    "drain",
    "enqueue",
    "enqueue_events",
    "enqueue_test",
    "given_up_lately",
    "hold_again",
    "id_for",
    "let_go",
    "mark",
    "mark_delivered",
    "mark_failed",
    "note_trouble",
    "nudge",
    "oldest_due",
    "register_notifier",
    "release",
    "return_path",
    "sealed_id",
    "send",
    "send_to",
    "take_back",
    "take_back_ahead",
    "take_back_follow_ups",
    "take_back_owed_reminders",
    "traced",
    "withdraw",
    "withdraw_asked",
    "withdraw_form",
    "withdraw_offer",
    "withdraw_proofs",
    "withdraw_question",
    "withdraw_resets",
]
