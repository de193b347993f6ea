"""The email to somebody whose second factor was reset."""

from datetime import datetime

from django.conf import settings

from accounts.models import User
from bookings.models import OutboxMessage
from bookings.notices.rows import row
from bookings.notices.wording import email_text, link, short_time
from bookings.outbox import MessageKind


def second_factor_reset(user: User, *, by: User | None, now: datetime) -> list[OutboxMessage]:
    """Names who reset it. `by` is None for the management command."""
    who = by.name if by else f"Somebody who runs the computers of {settings.SCHOOL_NAME}"
    done = f"{who} reset your second factor on {short_time(now, user.zone)}."
    out = "Your app and your recovery codes no longer work, and you are signed out everywhere."
    again = "Sign in with your password, then set up a new second factor."
    here = f"Set up a second factor: {link('/accounts/2fa/')}"
    alarm = "If you did not ask for this, tell the school at once and change your password."
    return [
        row(
            user,
            MessageKind.SECOND_FACTOR,
            f"user:{user.pk}",
            f"reset:{now:%Y%m%dT%H%M%S%f}",
            title="Your second factor was reset",
            body=email_text(user.name, [f"{done} {out}", again, here, alarm], changes=""),
            now=now,
        )
    ]
