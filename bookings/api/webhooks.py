"""Webhooks: addresses of other programs that are told what happens, for admins."""

from collections.abc import Callable
from datetime import datetime
from functools import partial

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from bookings.api.addresses import location
from bookings.api.conditions import HONOURED, NEEDED, etag, version_asked
from bookings.api.door import Result, answered
from bookings.api.operation import operation
from bookings.api.output import paged
from bookings.api.paging import page
from bookings.api.views import ApiView, asked, body, me
from bookings.api.webhook_serializers import (
    AttemptOutput,
    AttemptsAsked,
    WebhookChange,
    WebhookForm,
    WebhookOutput,
    WebhooksAsked,
    WebhookWithSecret,
)
from bookings.domain.scopes import PEOPLE
from bookings.models import Webhook
from bookings.operations.webhooks import (
    change_webhook,
    make_webhook,
    pause_webhook,
    remove_webhook,
    renew_secret,
    resume_webhook,
    send_test,
)
from bookings.queries.webhooks import all_webhooks, attempts_of, one_webhook


class Webhooks(ApiView):
    """The school's webhooks."""

    queries = {"GET"}
    bodies = {"POST"}

    @operation(
        "webhooks",
        scope=PEOPLE,
        refused=(403,),
        parameters=[WebhooksAsked],
        responses=paged(WebhookOutput),
    )
    def get(self, request: Request) -> Response:
        asked(request, WebhooksAsked)
        return page(request, WebhooksAsked, all_webhooks(me(request)), WebhookOutput.of_all)

    @operation(
        "make_webhook",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(403, 409),
        request=WebhookForm,
        responses={201: WebhookWithSecret},
    )
    def post(self, request: Request) -> HttpResponseBase:
        """A test is sent to it at once."""
        sent, user = body(request, WebhookForm), me(request)

        def act(now: datetime) -> Result:
            hook, secret = make_webhook(actor=user, now=now, **sent)
            where = location("webhooks", hook.pk)
            shown = WebhookWithSecret.of(hook, secret=secret)
            return Result(201, shown, {**_tag(hook), **where}, kept=False)

        return answered(request, act)


class OneWebhook(ApiView):
    """One webhook."""

    bodies = {"PATCH"}
    if_match = {"PATCH": NEEDED, "DELETE": NEEDED}

    @operation("webhook", scope=PEOPLE, headers=("ETag",), refused=(403,), responses=WebhookOutput)
    def get(self, request: Request, pk: int) -> Response:
        hook = one_webhook(me(request), pk)
        return Response(WebhookOutput.of(hook), headers=_tag(hook))

    @operation(
        "change_webhook",
        scope=PEOPLE,
        headers=("ETag",),
        refused=(403,),
        request=WebhookChange,
        responses=WebhookOutput,
    )
    def patch(self, request: Request, pk: int) -> HttpResponseBase:
        sent, user = body(request, WebhookChange), me(request)

        def act(now: datetime) -> Result:
            hook, version = _asked(request, pk)
            return _shown(
                change_webhook(actor=user, webhook=hook, version=version, now=now, **sent)
            )

        return answered(request, act)

    @operation("remove_webhook", scope=PEOPLE, refused=(403,), responses={204: None})
    def delete(self, request: Request, pk: int) -> HttpResponseBase:
        """Its log goes with it, and what waits for it."""

        def act(now: datetime) -> Result:
            hook, version = _asked(request, pk)
            remove_webhook(actor=me(request), webhook=hook, version=version, now=now)
            return Result(204)

        return answered(request, act)


class RenewingSecret(ApiView):
    """A new signing secret; for 24 hours deliveries are signed with the old one as well."""

    if_match = {"POST": NEEDED}

    @operation(
        "renew_webhook_secret",
        scope=PEOPLE,
        headers=("ETag", "Location"),
        refused=(403,),
        request=None,
        responses=WebhookWithSecret,
    )
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        def act(now: datetime) -> Result:
            hook, version = _asked(request, pk)
            changed, secret = renew_secret(
                actor=me(request), webhook=hook, version=version, now=now
            )
            shown, where = WebhookWithSecret.of(changed, secret=secret), location("webhooks", pk)
            return Result(200, shown, {**_tag(changed), **where}, kept=False)

        return answered(request, act)


_act = partial(
    operation,
    scope=PEOPLE,
    headers=("ETag",),
    refused=(403, 409),
    request=None,
    responses=WebhookOutput,
)


class PausingWebhook(ApiView):
    """Stops deliveries. What happens meanwhile is not told; what waits already is kept."""

    if_match = {"POST": HONOURED}

    @_act("pause_webhook")
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        return _changed(request, pk, pause_webhook)


class ResumingWebhook(ApiView):
    """Starts deliveries again, with those that waited."""

    if_match = {"POST": HONOURED}

    @_act("resume_webhook")
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        return _changed(request, pk, resume_webhook)


class TestingWebhook(ApiView):
    """Sends a test within seconds; attempts/ tells what became of it."""

    @_act("test_webhook")
    def post(self, request: Request, pk: int) -> HttpResponseBase:
        def act(now: datetime) -> Result:
            user = me(request)
            return _shown(send_test(actor=user, webhook=one_webhook(user, pk), now=now))

        return answered(request, act)


class WebhookAttempts(ApiView):
    """How a webhook was told, the newest attempt first. Of an answer only its status is kept."""

    queries = {"GET"}

    @operation(
        "webhook_attempts",
        scope=PEOPLE,
        refused=(403,),
        parameters=[AttemptsAsked],
        responses=paged(AttemptOutput),
    )
    def get(self, request: Request, pk: int) -> Response:
        asked(request, AttemptsAsked)
        rows = attempts_of(one_webhook(me(request), pk))
        return page(request, AttemptsAsked, rows, AttemptOutput.of_all)


def _changed(request: Request, pk: int, change: Callable[..., Webhook]) -> HttpResponseBase:
    """Does `change` to the webhook that If-Match names, and answers with the changed webhook."""

    def act(now: datetime) -> Result:
        hook, version = _asked(request, pk)
        return _shown(change(actor=me(request), webhook=hook, version=version, now=now))

    return answered(request, act)


def _asked(request: Request, pk: int) -> tuple[Webhook, int | None]:
    """The webhook and the version that If-Match names."""
    hook = one_webhook(me(request), pk)
    return hook, version_asked(request, "webhook", pk, hook.version)


def _tag(hook: Webhook) -> dict[str, str]:
    return {"ETag": etag("webhook", hook.pk, hook.version)}


def _shown(hook: Webhook) -> Result:
    return Result(200, WebhookOutput.of(hook), _tag(hook))
