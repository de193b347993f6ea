"""A lost second factor, reset by an admin or by whoever runs the machine."""

from datetime import datetime

from allauth.mfa.models import Authenticator

from accounts.models import User
from accounts.sessions import end_sessions_and_tokens
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.operations.audit import record


def reset_second_factor(*, actor: User | None, user: User, reason: str, now: datetime) -> User:
    """Removes this person's app and recovery codes, signs them out everywhere and writes to them.

    `actor` is None for the management command. Refused: "not-allowed" for oneself, because one's
    own page first asks for the password or a code, which a stolen session does not know; "invalid"
    without a reason; "already-done" without a second factor.
    """
    if actor == user:
        raise Refused("not-allowed", "Change your own second factor on its own page.")
    if not reason.strip():
        raise Refused("invalid", "Say how you know who asked for this.", field="reason")
    current = User.objects.select_for_update(no_key=True).get(pk=user.pk)
    factors = Authenticator.objects.filter(user=current)
    if not factors.exists():
        raise Refused("already-done", f"{current.name} has no second factor.")
    factors.delete()
    end_sessions_and_tokens(current)
    record(
        actor=actor,
        verb="reset second factor",
        thing=current,
        reason=reason.strip()[:200],
        now=now,
    )
    outbox.enqueue(notices.second_factor_reset(current, by=actor, now=now), now=now)
    return current
