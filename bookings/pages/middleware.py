"""What holds for every page: caching, the second factor, kept forms, and refusals."""

from collections.abc import Callable

from django.contrib import messages
from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from accounts import kept_forms
from accounts.guesses import TooManyGuesses
from accounts.models import User
from accounts.second_factor import factors_of, session_counts
from bookings.domain.errors import Refused
from bookings.pages.refill import refilled

# The same for everybody. To ask who reads them would make them vary by cookie.
_PUBLIC = ("/static/", "/health/", "/calendar/")
# The account library would let people change the address that the school knows them by.
_CLOSED = ("/accounts/email/", "/accounts/confirm-email/")
_HOLDS_A_SECRET = ("/welcome/", "/consent/", "/new-address/", "/accounts/password/reset/key/")


class PageMiddleware:
    """Keeps pages out of caches, asks for the second factor first, and shows refusals as pages."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.path.startswith(_PUBLIC):
            return self.get_response(request)
        if request.path.startswith(_CLOSED):
            return redirect("me")
        response = _second_factor_first(request)
        if response is not None:
            return response
        response = _with_what_was_written(request, self.get_response(request))
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
        return render(
            request, "levare/refused.html", {"refusal": exception}, status=exception.status
        )


def _with_what_was_written(request: HttpRequest, response: HttpResponse) -> HttpResponse:
    """Keeps a form that was sent after its session had ended, and fills it in again.

    Only the same person sees it, and they have to send it again themselves.
    """
    user = request.user
    if request.method == "POST":
        if not isinstance(user, User) and _leads_to_sign_in(response):
            return _kept(request, response)
        if isinstance(user, User):
            _forget_what_was_sent(request, user)
        return response
    is_page = response.headers.get("Content-Type", "").startswith("text/html")
    if not isinstance(user, User) or not is_page or response.streaming:
        return response
    kept = kept_forms.kept_for(request, user)
    if kept is not None and kept.page == request.get_full_path():
        response.content = refilled(response.content.decode(), request.path, kept)
    return response


def _leads_to_sign_in(response: HttpResponse) -> bool:
    to = response.headers.get("Location", "")
    return response.status_code == 302 and to.startswith(reverse("account_login"))


def _kept(request: HttpRequest, response: HttpResponse) -> HttpResponse:
    form = kept_forms.keep(request)
    if form is None:
        return response
    messages.info(request, "Sign in again. What you wrote is kept for 30 minutes.")
    return redirect_to_login(form.page)


def _forget_what_was_sent(request: HttpRequest, user: User) -> None:
    kept = kept_forms.kept_for(request, user)
    if kept is not None and kept.sent_to == request.path:
        kept_forms.destroy(request)


def too_many(request: HttpRequest, words: str, retry_after: int) -> HttpResponse:
    """The page after too many attempts, with the seconds to wait (RFC 6585 section 4)."""
    response = render(request, "levare/429.html", {"words": words}, status=429)
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
