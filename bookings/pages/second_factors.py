"""Second factors: what follows when one is set up, and an admin's reset of a lost one."""

from typing import Any

from allauth.account.internal.flows.login import record_authentication
from allauth.mfa.models import Authenticator
from allauth.mfa.signals import authenticator_added
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.decorators import login_required
from django.dispatch import receiver
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from accounts.models import User
from accounts.sessions import end_sessions_and_tokens
from bookings import clock
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.operations.second_factors import reset_second_factor
from bookings.pages.forms.fields import line_of
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.queries.people import one_account


@receiver(authenticator_added)
def end_other_sessions(
    request: HttpRequest, user: User, authenticator: Authenticator, **_: Any
) -> None:
    """Ends what was signed in without the new factor; this session has just given its code."""
    if authenticator.type != Authenticator.Type.TOTP:
        return
    write(lambda: end_sessions_and_tokens(user), now=clock.now())
    update_session_auth_hash(request, user)
    record_authentication(request, user, "mfa", id=authenticator.pk, type=authenticator.type)


@login_required
@require_http_methods(["GET", "POST"])
def reset(request: HttpRequest, user_id: int) -> HttpResponse:
    """For admins: GET says what a reset does and asks for the reason, POST resets."""
    actor, now = user_of(request), clock.now()
    found = one_account(actor, user_id)
    context: dict[str, Any] = {"found": found, "reason": line_of(request.POST.get("reason", ""))}
    if request.method == "GET":
        return render(request, "levare/reset_second_factor.html", context)
    try:
        write(
            lambda: reset_second_factor(actor=actor, user=found, reason=context["reason"], now=now),
            now=now,
        )
    except Refused as refusal:
        context["refusal"] = refusal
        return show(request, "levare/reset_second_factor.html", context)
    messages.success(request, f"Second factor reset. {found.name} gets an email.")
    return redirect("account", user_id=found.pk)
