"""Invitations: the page that an invited person opens, and an admin's withdrawal of one."""

from typing import Any

from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from accounts.models import Welcome
from bookings import clock
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.operations.invitations import come_in, welcome_by_secret, withdraw_invitation
from bookings.pages.context_processors import ZONE_COOKIE
from bookings.pages.forms.invitations import WelcomeForm
from bookings.pages.signed_in import user_of
from bookings.queries.people import account_at, one_invitation

_SIGN_IN = "Added to your account. Sign in with your email address and password."


@require_http_methods(["GET", "POST"])
def welcome(request: HttpRequest, secret: str) -> HttpResponse:
    """GET shows the form, POST makes the account. A person with an account gains the role."""
    now = clock.now()
    found = welcome_by_secret(secret, now=now)
    if account_at(found.email) is not None:
        return _known(request, found, secret)
    form = WelcomeForm(
        request.POST or None, name=found.name, browser_zone=request.COOKIES.get(ZONE_COOKIE, "")
    )
    context: dict[str, Any] = {"welcome": found, "form": form}
    if request.method == "GET" or not form.is_valid():
        return render(request, "levare/welcome.html", context, status=422 if form.errors else 200)
    try:
        user = write(lambda: come_in(secret=secret, now=now, **form.cleaned_data), now=now)
    except Refused as refusal:
        return render(
            request, "levare/welcome.html", {**context, "refusal": refusal}, status=refusal.status
        )
    login(request, user)
    messages.success(request, f"Welcome. Your account is ready: you sign in as {user.email}.")
    return redirect("home")


def _known(request: HttpRequest, found: Welcome, secret: str) -> HttpResponse:
    """A person who has an account gains the role; the emailed link does not sign them in."""
    now = clock.now()
    context: dict[str, Any] = {"welcome": found, "form": None}
    if request.method == "GET":
        return render(request, "levare/welcome.html", context)
    try:
        user = write(
            lambda: come_in(secret=secret, name="", time_zone="UTC", password="", now=now), now=now
        )
    except Refused as refusal:
        return render(
            request, "levare/welcome.html", {**context, "refusal": refusal}, status=refusal.status
        )
    stays = request.user == user and not (found.as_admin or found.as_instructor)
    messages.success(request, "Added to your account." if stays else _SIGN_IN)
    return redirect("home" if stays else "account_login")


@login_required
@require_POST
def withdraw(request: HttpRequest, welcome_id: int) -> HttpResponse:
    """Withdraws an invitation, such as one to a mistyped address."""
    found, now = one_invitation(user_of(request), welcome_id), clock.now()
    try:
        write(lambda: withdraw_invitation(actor=user_of(request), welcome=found, now=now), now=now)
    except Refused as refusal:
        messages.error(request, refusal.detail)
    else:
        messages.success(request, f"Withdrawn: the invitation to {found.email}.")
    return redirect("people")
