"""Setting up a second factor, which the account library's pages do: what follows from it here."""

from typing import Any

from allauth.account.internal.flows.login import record_authentication
from allauth.mfa.models import Authenticator
from allauth.mfa.signals import authenticator_added
from django.contrib.auth import update_session_auth_hash
from django.dispatch import receiver
from django.http import HttpRequest

from accounts.models import User
from accounts.sessions import end_sessions_and_tokens
from bookings import clock
from bookings.door import write


@receiver(authenticator_added)
def end_other_sessions(
    request: HttpRequest, user: User, authenticator: Authenticator, **_: Any
) -> None:
    """Whoever was signed in without the new factor is out; this session has just given its code and goes on."""
    if authenticator.type != Authenticator.Type.TOTP:
        return
    write(lambda: end_sessions_and_tokens(user), now=clock.now())
    update_session_auth_hash(request, user)
    record_authentication(request, user, "mfa", id=authenticator.pk, type=authenticator.type)
