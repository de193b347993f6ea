"""Other programs of the school, for admins: tokens that let them in, and addresses to tell."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from bookings import clock
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.domain.scopes import SCOPE_WORDS, Scope
from bookings.models import ServiceToken
from bookings.operations.service_tokens import make_service_token, revoke_service_token
from bookings.pages.confirmation import Question, confirmed
from bookings.pages.forms.programs import ServiceTokenForm
from bookings.pages.pagination import paginate
from bookings.pages.sent_once import write_once
from bookings.pages.showing import show
from bookings.pages.shown_once import keep_secret, take_secret
from bookings.pages.signed_in import user_of
from bookings.queries.service_tokens import all_service_tokens, one_service_token
from bookings.queries.webhooks import all_webhooks

PAGE_OF = 20


@login_required
@require_GET
def programs(request: HttpRequest) -> HttpResponse:
    """The tokens, a page of them, and every webhook; the secret of a token that was just made,
    once.
    """
    user, now = user_of(request), clock.now()
    shown = paginate(all_service_tokens(user), request.GET.get("page"), size=PAGE_OF)
    context = {
        "tokens": [(token, _may(token), token.works(now)) for token in shown],
        "shown": shown,
        "webhooks": all_webhooks(user),
        "secret": take_secret(request, "service token", now=now),
    }
    return render(request, "levare/programs.html", context)


@login_required
@require_http_methods(["GET", "POST"])
def new_token(request: HttpRequest) -> HttpResponse:
    """GET shows the form of a token; POST makes it, and its secret is shown on the next page."""
    user, now, refusal = user_of(request), clock.now(), None
    require_admin(user)
    form = ServiceTokenForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            _, secret = write_once(
                request,
                lambda: make_service_token(actor=user, now=now, **form.cleaned_data),
                now=now,
            )
        except Refused as error:
            refusal = error
        else:
            keep_secret(request, "service token", secret, now=now)
            return redirect("programs")
    context = {"form": form, "refusal": refusal}
    return show(request, "levare/new_token.html", context)


@login_required
@require_http_methods(["GET", "POST"])
def revoke_token(request: HttpRequest, token_id: int) -> HttpResponse:
    """GET says what stops and asks for confirmation; POST revokes the token."""
    user, now = user_of(request), clock.now()
    token = one_service_token(user, token_id)
    question = Question(
        title=f"Revoke the token of “{token.name}”?",
        follows=[
            "The program that uses it is refused from its next request on.",
            "What it has booked stays booked. The token cannot be brought back, but you can make"
            " another.",
        ],
        button="Revoke the token",
        back=reverse("programs"),
    )
    return confirmed(
        request,
        question,
        lambda: revoke_service_token(actor=user, token=token, now=now),
        done=f"Revoked: {token.name}. That token opens nothing any more.",
        to=question.back,
    )


def _may(token: ServiceToken) -> list[str]:
    """What it may do, in words."""
    return [SCOPE_WORDS[Scope(scope)] for scope in token.scopes]
