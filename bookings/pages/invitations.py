"""Invitations: the page that an invited person opens, and an admin's withdrawal of one."""

from typing import Any

from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods

from accounts.models import Welcome
from bookings import clock
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.operations.invitations import come_in, welcomes_by_secret, withdraw_invitation
from bookings.pages.confirmation import Question, confirmation_page
from bookings.pages.context_processors import ZONE_COOKIE
from bookings.pages.forms.invitations import WelcomeForm
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.queries.people import account_at, one_invitation

_SIGN_IN = "Added to your account. Sign in with your email address and password."


@require_http_methods(["GET", "POST"])
def welcome(request: HttpRequest, secret: str) -> HttpResponse:
    """GET shows the form, POST makes the account. A person with an account gains the role."""
    now = clock.now()
    roles = welcomes_by_secret(secret, now=now)
    found = roles[0]
    if account_at(found.email) is not None:
        return _known(request, roles, secret)
    form = WelcomeForm(
        request.POST or None, name=found.name, browser_zone=request.COOKIES.get(ZONE_COOKIE, "")
    )
    context: dict[str, Any] = {"welcome": found, "roles": roles, "form": form}
    if request.method == "GET" or not form.is_valid():
        return show(request, "levare/welcome.html", context)
    try:
        user = write(lambda: come_in(secret=secret, now=now, **form.cleaned_data), now=now)
    except Refused as refusal:
        return show(request, "levare/welcome.html", {**context, "refusal": refusal})
    login(request, user)
    messages.success(request, f"Welcome. Your account is ready: you sign in as {user.email}.")
    return redirect("home")


def _known(request: HttpRequest, roles: list[Welcome], secret: str) -> HttpResponse:
    """A person who has an account gains the role; the emailed link does not sign them in."""
    now = clock.now()
    context: dict[str, Any] = {"welcome": roles[0], "roles": roles, "form": None}
    if request.method == "GET":
        return render(request, "levare/welcome.html", context)
    try:
        user = write(
            lambda: come_in(secret=secret, name="", time_zone="UTC", password="", now=now), now=now
        )
    except Refused as refusal:
        return show(request, "levare/welcome.html", {**context, "refusal": refusal})
    gains_duties = any(role.as_admin or role.as_instructor for role in roles)
    stays = request.user == user and not gains_duties
    messages.success(request, "Added to your account." if stays else _SIGN_IN)
    return redirect("home" if stays else "account_login")


@login_required
@require_http_methods(["GET", "POST"])
def withdraw(request: HttpRequest, welcome_id: int) -> HttpResponse:
    """GET asks once; POST withdraws an invitation, such as one to a mistyped address."""
    found, now = one_invitation(user_of(request), welcome_id), clock.now()
    if request.method == "GET":
        return confirmation_page(request, _withdrawing(found, _back(request)))
    try:
        write(lambda: withdraw_invitation(actor=user_of(request), welcome=found, now=now), now=now)
    except Refused as refusal:
        messages.error(request, refusal.detail)
    else:
        messages.success(request, f"Withdrawn: the invitation to {found.email}.")
    return redirect(_back(request))


def _back(request: HttpRequest) -> str:
    """The page of this school that the invitation was seen on, or else the list of people."""
    asked = (request.GET if request.method == "GET" else request.POST).get("next", "")
    is_ours = url_has_allowed_host_and_scheme(asked, allowed_hosts=None)
    return asked if is_ours else reverse("people")


def _withdrawing(found: Welcome, back: str) -> Question:
    return Question(
        f"Withdraw the invitation to {found.name}?",
        [
            f"The link in the email to {found.email} stops working.",
            "You can send a new invitation at any time.",
        ],
        "Withdraw the invitation",
        back,
        {"next": back},
    )
