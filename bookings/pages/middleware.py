"""What every answer to a person carries, and what a refusal looks like as a page."""

from collections.abc import Callable

from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from accounts.guesses import TooManyGuesses
from accounts.models import User
from accounts.second_factor import factors_of, session_counts
from bookings.domain.errors import Refused

_NOBODYS = (
    "/static/",
    "/health/",
    "/calendar/",
)  # asking who reads them would make them vary by cookie
# The account library would let people change the address that the school knows them by.
_CLOSED = ("/accounts/email/", "/accounts/confirm-email/")
_HOLDS_A_SECRET = ("/welcome/", "/consent/", "/accounts/password/reset/key/")


class PageMiddleware:
    """No browser or proxy keeps a signed-in person's pages; a second factor is passed first."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.path.startswith(_NOBODYS):
            return self.get_response(request)
        if request.path.startswith(_CLOSED):
            return redirect("me")
        response = _second_factor_first(request)
        if response is not None:
            return response
        response = self.get_response(request)
        if request.user.is_authenticated or request.path.startswith(_HOLDS_A_SECRET):
            response.headers["Cache-Control"] = "no-store, private"
        return response

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """A refusal that a page has not dealt with becomes a page that says its sentence."""
        if isinstance(exception, TooManyGuesses):
            return too_many(request, exception.detail, exception.retry_after)
        if not isinstance(exception, Refused):
            return None
        if exception.code == "too-many-requests":
            return too_many(request, exception.detail, exception.data["retry_after"])
        return render(request, "refused.html", {"refusal": exception}, status=exception.status)


def too_many(request: HttpRequest, words: str, retry_after: int) -> HttpResponse:
    """The page for whoever came too often, with the seconds to wait (RFC 6585 section 4)."""
    response = render(request, "429.html", {"words": words}, status=429)
    response.headers["Retry-After"] = str(retry_after)
    response.headers["Cache-Control"] = "no-store"
    return response


def _second_factor_first(request: HttpRequest) -> HttpResponse | None:
    """The way to the second factor, for a session that needs it and has not passed it."""
    user = request.user
    # The API says it in its own words.
    if request.path.startswith("/api/") or not isinstance(user, User):
        return None
    if session_counts(request, user):
        return None
    if not factors_of(user).exists():
        return None if request.path.startswith("/accounts/") else redirect("mfa_index")
    # Also before it changes the password or the factor itself.
    if request.path in {reverse("mfa_reauthenticate"), reverse("account_logout")}:
        return None
    return redirect_to_login(request.get_full_path(), "mfa_reauthenticate")
