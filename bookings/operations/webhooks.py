"""Webhooks of the school: made, changed, paused, tried and removed by admins."""

from collections.abc import Collection
from datetime import datetime

from accounts.models import User
from bookings import outbox
from bookings.access import not_there, require_admin
from bookings.domain.errors import Refused
from bookings.domain.events import Event
from bookings.domain.standard_webhooks import OVERLAP, new_signing_secret
from bookings.inbound.addresses import read_address
from bookings.models import Webhook
from bookings.operations.audit import record
from bookings.operations.changing import set_given
from bookings.operations.locks import lock_admins
from bookings.operations.versions import check_version

MOST_WEBHOOKS, LONGEST_NAME = 20, 60


def make_webhook(
    *, actor: User, name: str, address: str, kinds: Collection[str], now: datetime
) -> tuple[Webhook, str]:
    """Makes a webhook, sends it a test, and returns it with its secret, which is shown once.

    Refused: "not-allowed", "limit-reached" beyond MOST_WEBHOOKS, "webhook-address", "invalid".
    """
    require_admin(actor)
    lock_admins()  # two at once do not both make the last one
    if Webhook.objects.count() >= MOST_WEBHOOKS:
        raise Refused(
            "limit-reached", f"The school has {MOST_WEBHOOKS} webhooks already. Remove one first."
        )
    secret = new_signing_secret()
    hook = Webhook(
        name=checked_name(name),
        address=checked_address(address),
        kinds=_checked_kinds(kinds),
        made_by=actor,
        made_at=now,
    )
    hook.secret = secret
    hook.save()
    record(actor=actor, verb="made webhook", thing=hook, now=now)
    outbox.enqueue_test(hook, now=now)
    return hook, secret


def change_webhook(
    *,
    actor: User,
    webhook: Webhook,
    version: int | None = None,
    name: str | None = None,
    address: str | None = None,
    kinds: Collection[str] | None = None,
    now: datetime,
) -> Webhook:
    """Changes what is given. Deliveries that wait go to the new address, with the same secret.

    Refused as `make_webhook`, "not-found", "stale".
    """
    current = _locked(actor, webhook, version)
    changed = set_given(
        current,
        name=None if name is None else checked_name(name),
        address=None if address is None else checked_address(address),
        kinds=None if kinds is None else _checked_kinds(kinds),
    )
    if not changed:
        return current
    if "address" in changed:  # what failed was the old address
        current.failures, current.waits_until = 0, None
    return _saved(current, actor, "changed webhook", [*changed, "failures", "waits_until"], now)


def renew_secret(
    *, actor: User, webhook: Webhook, version: int | None = None, now: datetime
) -> tuple[Webhook, str]:
    """Gives a webhook a new secret, shown once. Deliveries are signed with both for 24 hours.

    The one before the old one signs no more. Refused: "not-allowed", "not-found", "stale".
    """
    current = _locked(actor, webhook, version)
    current.sealed_old_secret, current.old_until = current.sealed_secret, now + OVERLAP
    current.secret = secret = new_signing_secret()
    fields = ["sealed_secret", "sealed_old_secret", "old_until"]
    return _saved(current, actor, "renewed webhook secret", fields, now), secret


def pause_webhook(
    *, actor: User, webhook: Webhook, version: int | None = None, now: datetime
) -> Webhook:
    """Stops deliveries. What happens meanwhile is not told; what waits already is kept.

    Refused: "not-allowed", "not-found", "stale", "already-done".
    """
    current = _locked(actor, webhook, version)
    if current.paused_at is not None:
        raise Refused("already-done", "This webhook is paused already.")
    current.paused_at, current.paused_why = now, Webhook.Paused.BY_HAND
    return _saved(current, actor, "paused webhook", ["paused_at", "paused_why"], now)


def resume_webhook(
    *, actor: User, webhook: Webhook, version: int | None = None, now: datetime
) -> Webhook:
    """Starts deliveries again, with those that waited. Refused as `pause_webhook`."""
    current = _locked(actor, webhook, version)
    if current.paused_at is None:
        raise Refused("already-done", "This webhook is not paused.")
    current.paused_at, current.paused_why = None, ""
    current.failures, current.waits_until = 0, None
    fields = ["paused_at", "paused_why", "failures", "waits_until"]
    return _saved(current, actor, "resumed webhook", fields, now)


def send_test(*, actor: User, webhook: Webhook, now: datetime) -> Webhook:
    """Sends a test soon. Refused: "not-allowed", "not-found", "already-ended" for a paused one."""
    current = _locked(actor, webhook, None)
    if current.paused_at is not None:
        raise Refused("already-ended", "This webhook is paused. Resume it, then send a test.")
    outbox.enqueue_test(current, now=now)
    # Whoever sends a test has mended something, and does not want to wait an hour for the answer.
    Webhook.objects.filter(pk=current.pk).update(waits_until=None)
    record(actor=actor, verb="tested webhook", thing=current, now=now)
    return current


def remove_webhook(
    *, actor: User, webhook: Webhook, version: int | None = None, now: datetime
) -> None:
    """Removes a webhook with its log and what waits.

    Refused: "not-allowed", "not-found", "stale".
    """
    current = _locked(actor, webhook, version)
    record(actor=actor, verb="removed webhook", thing=current, now=now)
    current.delete()


def forget_old_secrets(*, now: datetime) -> None:
    """Erases secrets that sign no more."""
    over = Webhook.objects.filter(old_until__lte=now)
    over.update(sealed_old_secret=b"", old_until=None)


def checked_address(address: str) -> str:
    """The address in its usual form. Refused("webhook-address") with what to change."""
    try:
        return read_address(address).text
    except Refused as refusal:
        raise Refused("webhook-address", refusal.detail, field="address") from refusal


def checked_name(name: str) -> str:
    """The name without spaces around it. Refused("invalid")."""
    name = name.strip()
    if not name or len(name) > LONGEST_NAME:
        raise Refused("invalid", f"Give a name of up to {LONGEST_NAME} characters.", field="name")
    return name


def _checked_kinds(kinds: Collection[str]) -> list[str]:
    """The kinds in the order of Event. Refused("invalid")."""
    wanted = [event.value for event in Event if event.value in kinds]
    if not wanted or len(wanted) < len(set(kinds)):
        raise Refused("invalid", "Choose at least one event, each from the list.", field="kinds")
    return wanted


def _locked(actor: User, webhook: Webhook, version: int | None) -> Webhook:
    require_admin(actor)
    current = Webhook.objects.select_for_update(no_key=True).filter(pk=webhook.pk).first()
    if current is None:
        raise not_there()
    check_version(current, version, detail="The webhook has changed since you read it.")
    return current


def _saved(webhook: Webhook, actor: User, verb: str, fields: list[str], now: datetime) -> Webhook:
    webhook.version += 1
    webhook.save(update_fields=[*fields, "version"])
    record(actor=actor, verb=verb, thing=webhook, fields=fields, now=now)
    return webhook
