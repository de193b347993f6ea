"""One webhook, for admins: how it was told, and every act there."""

from collections.abc import Callable
from functools import partial

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from accounts.models import User
from bookings import clock
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.domain.events import TEST, WORDS, Event
from bookings.door import write
from bookings.models import Webhook, WebhookAttempt
from bookings.operations.webhooks import (
    change_webhook,
    make_webhook,
    pause_webhook,
    remove_webhook,
    renew_secret,
    resume_webhook,
    send_test,
)
from bookings.pages.confirmation import Question, confirmation_page, confirmed
from bookings.pages.forms.programs import WebhookForm
from bookings.pages.pagination import paginate
from bookings.pages.parameters import read_version
from bookings.pages.sent_once import write_once
from bookings.pages.showing import show
from bookings.pages.shown_once import keep_secret, take_secret
from bookings.pages.signed_in import user_of
from bookings.queries.webhooks import attempts_of, one_webhook, waiting_for

ON_A_PAGE = 40
PROBLEMS = {
    "not-public": "its host is not on the public internet",
    "unknown-host": "its host is unknown",
    "unreachable": "it could not be reached",
    "certificate": "its certificate is not one for that host",
    "slow": "it took more than 15 seconds",
    "no-answer": "it did not answer",
}


@login_required
@require_http_methods(["GET", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    """GET shows the form of a webhook; POST makes it, and its page shows the secret once."""
    user, now, refusal = user_of(request), clock.now(), None
    require_admin(user)
    form = WebhookForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        values = {name: form.cleaned_data[name] for name in ("name", "address", "kinds")}
        try:
            hook, secret = write_once(
                request, lambda: make_webhook(actor=user, now=now, **values), now=now
            )
        except Refused as error:
            refusal = error
        else:
            keep_secret(request, f"webhook:{hook.pk}", secret, now=now)
            messages.success(request, "Saved. A test is on its way to it.")
            return redirect("webhook", hook.pk)
    return show(request, "levare/new_webhook.html", {"form": form, "refusal": refusal})


@login_required
@require_GET
def webhook(request: HttpRequest, webhook_id: int) -> HttpResponse:
    """What it is told, whether it answers, and the log of attempts, forty a page."""
    return _page(request, one_webhook(user_of(request), webhook_id))


@login_required
@require_http_methods(["GET", "POST"])
def change(request: HttpRequest, webhook_id: int) -> HttpResponse:
    """GET shows a webhook as typed; POST changes it."""
    user, now, refusal = user_of(request), clock.now(), None
    hook = one_webhook(user, webhook_id)
    typed = {name: getattr(hook, name) for name in ("name", "address", "kinds", "version")}
    form = WebhookForm(request.POST or None, initial=typed)
    if request.method == "POST" and form.is_valid():
        try:
            write(
                lambda: change_webhook(actor=user, webhook=hook, now=now, **form.cleaned_data),
                now=now,
            )
        except Refused as error:
            refusal = error
        else:
            messages.success(request, f"Changed: {form.cleaned_data['name']}.")
            return redirect("webhook", hook.pk)
    context = {"form": form, "refusal": refusal, "hook": hook}
    return show(request, "levare/change_webhook.html", context)


@login_required
@require_http_methods(["GET", "POST"])
def secret(request: HttpRequest, webhook_id: int) -> HttpResponse:
    """GET says what follows; POST makes a new secret, which the next page shows once."""
    user, now = user_of(request), clock.now()
    hook = one_webhook(user, webhook_id)
    question = _question(
        hook,
        f"A new secret for “{hook.name}”?",
        [
            "For 24 hours everything is signed with both secrets, so give the program the new one"
            " within that time. After that the old one is of no use.",
        ],
        "Make a new secret",
    )
    if request.method == "GET":
        return confirmation_page(request, question)
    try:
        version = read_version(request)
        _, made = write(
            lambda: renew_secret(actor=user, webhook=hook, version=version, now=now), now=now
        )
    except Refused as refusal:
        return confirmation_page(request, question, refusal)
    keep_secret(request, f"webhook:{hook.pk}", made, now=now)
    return redirect("webhook", hook.pk)


@login_required
@require_http_methods(["GET", "POST"])
def remove(request: HttpRequest, webhook_id: int) -> HttpResponse:
    """GET says what goes and asks for confirmation; POST removes the webhook."""
    user, now = user_of(request), clock.now()
    hook = one_webhook(user, webhook_id)
    follows = ["It gets no more messages.", "The record of its messages goes too."]
    question = _question(hook, f"Remove “{hook.name}”?", follows, "Remove it")
    return confirmed(
        request,
        question,
        lambda: remove_webhook(actor=user, webhook=hook, version=read_version(request), now=now),
        done=f"Removed: {hook.name}.",
        to=reverse("programs"),
    )


def _done(
    request: HttpRequest, webhook_id: int, act: Callable[..., Webhook], said: str
) -> HttpResponse:
    """An act of one button, and back to the page."""
    user, now = user_of(request), clock.now()
    hook = one_webhook(user, webhook_id)
    try:
        write(partial(act, actor=user, webhook=hook, now=now), now=now)
    except Refused as refusal:
        return _page(request, hook, refusal)
    messages.success(request, said)
    return redirect("webhook", hook.pk)


@login_required
@require_POST
def test(request: HttpRequest, webhook_id: int) -> HttpResponse:
    """Sends a test."""
    said = "A test is on its way. Open this page again in a few seconds to see what it answered."
    return _done(request, webhook_id, send_test, said)


@login_required
@require_POST
def pause(request: HttpRequest, webhook_id: int) -> HttpResponse:
    """Stops deliveries."""
    return _done(
        request, webhook_id, pause_webhook, "Paused. It gets no messages until you resume."
    )


@login_required
@require_POST
def resume(request: HttpRequest, webhook_id: int) -> HttpResponse:
    """Starts deliveries again."""
    return _done(request, webhook_id, resume_webhook, "Resumed. It gets messages again.")


def _question(hook: Webhook, title: str, follows: list[str], button: str) -> Question:
    back = reverse("webhook", args=[hook.pk])
    return Question(title, follows, button, back, {"version": hook.version})


def _page(request: HttpRequest, hook: Webhook, refusal: Refused | None = None) -> HttpResponse:
    user: User = user_of(request)
    now = clock.now()
    page = paginate(attempts_of(hook), request.GET.get("page"), size=ON_A_PAGE)
    context = {
        "hook": one_webhook(user, hook.pk),
        "told_of": [WORDS[Event(kind)] for kind in hook.kinds],
        "waiting": waiting_for(hook),
        "secret": take_secret(request, f"webhook:{hook.pk}", now=now),
        "has_two": hook.old_until is not None and hook.old_until > now,
        "shown": page,
        "rows": [(one, _event(one), _became(one)) for one in page],
        "refusal": refusal,
    }
    return show(request, "levare/webhook.html", context)


def _event(attempt: WebhookAttempt) -> str:
    return "A test" if attempt.kind == TEST else WORDS[Event(attempt.kind)]


def _became(attempt: WebhookAttempt) -> str:
    """What became of it, in words; empty for a success."""
    return PROBLEMS.get(attempt.problem, "it refused") if attempt.problem else ""
