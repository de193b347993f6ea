"""A new email address of an account: noted by an admin, and confirmed from its mailbox."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from bookings import clock
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.operations.addresses import (
    ask_new_address,
    change_by_secret,
    confirm_new_address,
    withdraw_new_address,
)
from bookings.pages.accounts import show_account
from bookings.pages.confirmation import Question, confirmation_page
from bookings.pages.forms.people import AddressForm
from bookings.pages.signed_in import user_of
from bookings.queries.people import one_account


@login_required
@require_POST
def new_address(request: HttpRequest, user_id: int) -> HttpResponse:
    """Notes another address, which gets a link to confirm it."""
    user, now = one_account(user_of(request), user_id), clock.now()
    form = AddressForm(request.POST)
    if not form.is_valid():
        return show_account(request, user, address=form)
    email = form.cleaned_data["email"]
    try:
        change = write(
            lambda: ask_new_address(actor=user_of(request), user=user, email=email, now=now),
            now=now,
        )
    except Refused as refusal:
        return show_account(request, user, address=form, refusal=refusal)
    messages.success(
        request,
        f"A link is on its way to {change.email}. The old address counts until it is used.",
    )
    return redirect("account", user_id=user.pk)


@login_required
@require_POST
def withdraw(request: HttpRequest, user_id: int) -> HttpResponse:
    """Takes back an address that is not confirmed yet."""
    user, now = one_account(user_of(request), user_id), clock.now()
    try:
        write(lambda: withdraw_new_address(actor=user_of(request), user=user, now=now), now=now)
    except Refused as refusal:
        return show_account(request, user, refusal=refusal)
    messages.success(request, "The new address is withdrawn, and its link no longer works.")
    return redirect("account", user_id=user.pk)


@require_http_methods(["GET", "POST"])
def confirm(request: HttpRequest, secret: str) -> HttpResponse:
    """GET names the address; POST makes it the account's. Whoever has the link need not sign in."""
    now = clock.now()
    change = change_by_secret(secret, now=now)
    question = Question(
        f"Use {change.email} from now on?",
        [
            f"It becomes the email address of your account, {change.user.name}. You sign in with it"
            " and get our emails there.",
            "You are signed out everywhere. Your password stays the same.",
        ],
        "Confirm this address",
        reverse("home"),
    )
    if request.method == "GET":
        return confirmation_page(request, question)
    try:
        user = write(lambda: confirm_new_address(secret=secret, now=now), now=now)
    except Refused as refusal:
        return confirmation_page(request, question, refusal)
    messages.success(request, f"Confirmed. Sign in with {user.email}.")
    return redirect("account_login")
