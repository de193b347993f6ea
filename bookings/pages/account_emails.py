"""What the account library leaves to the school: its emails, in the school's words and sent by the
school's outbox, and the spelling of the addresses that people type.
"""

from typing import Any

from allauth.account.forms import ResetPasswordForm
from django.core.exceptions import ImproperlyConfigured
from django.http import HttpRequest
from django.urls import reverse

from accounts.adapter import ClosedDoor
from accounts.models import User
from bookings import clock
from bookings.domain.addresses import known_as
from bookings.door import write
from bookings.notices import AccountEvent
from bookings.operations.account_emails import (
    note_unknown_account,
    send_password_link,
    tell_of_change,
)

EVENTS = {
    "account/email/password_changed": AccountEvent.PASSWORD_CHANGED,
    "account/email/password_reset": AccountEvent.PASSWORD_RESET,
    "account/email/password_set": AccountEvent.PASSWORD_CHANGED,
    "mfa/email/totp_activated": AccountEvent.SECOND_FACTOR_ADDED,
    "mfa/email/totp_deactivated": AccountEvent.SECOND_FACTOR_REMOVED,
    "mfa/email/recovery_codes_generated": AccountEvent.RECOVERY_CODES_MADE,
}
"""What the library tells of, by the name of its template."""


class AccountEmails(ClosedDoor):
    """Hands each email to an operation. ImproperlyConfigured for an email without words of ours."""

    def clean_email(self, email: str) -> str:
        """Addresses that are typed, to sign in or for a new password, are looked up as stored."""
        return known_as(email)

    def send_password_reset_mail(self, user: Any, email: str, context: dict[str, Any]) -> None:
        """To the address of the account, not the one typed. The link does not depend on Host."""
        path = reverse(
            "account_reset_password_from_key",
            kwargs={"uidb36": context["uid"], "key": context["key"]},
        )
        now = clock.now()
        write(lambda: send_password_link(user=user, path=path, now=now), now=now)

    def send_notification_mail(
        self,
        template_prefix: str,
        user: Any,
        context: dict[str, Any] | None = None,
        email: str | None = None,
    ) -> None:
        event, owner, now = EVENTS.get(template_prefix), _person(user), clock.now()
        if event is None:
            raise ImproperlyConfigured(f"No words of the school for {template_prefix}.")
        write(lambda: tell_of_change(user=owner, event=event, now=now), now=now)

    def send_mail(self, template_prefix: str, email: str, context: dict[str, Any]) -> None:
        raise ImproperlyConfigured(f"No words of the school for {template_prefix}.")


class NewPasswordForm(ResetPasswordForm):
    """Asks for a link by address. An unknown address gets the same answer and the same work."""

    def save(self, request: HttpRequest, **kwargs: Any) -> str:
        email: str = super().save(request, **kwargs)
        if not self.users:
            now = clock.now()
            write(lambda: note_unknown_account(now=now), now=now)
        return email


def _person(user: Any) -> User:
    assert isinstance(user, User)  # noqa: S101  there is no other kind
    return user
