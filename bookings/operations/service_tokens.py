"""Service tokens: made and revoked by admins, for the school's other programs."""

from collections.abc import Collection
from datetime import datetime, timedelta

from accounts.models import User, digest, new_secret
from bookings.access import require_admin
from bookings.access.service_tokens import PREFIX
from bookings.domain.errors import Refused
from bookings.domain.scopes import LONGEST_LIFE, LONGEST_NAME, MOST_TOKENS, Scope
from bookings.models import ServiceToken
from bookings.operations.audit import record
from bookings.operations.locks import lock_admins

_BEGINS = 12


def make_service_token(
    *, actor: User, name: str, scopes: Collection[str], days: int, now: datetime
) -> tuple[ServiceToken, str]:
    """Makes a token that works for so many days; returns it with its secret, shown once.

    Refused: "not-allowed", "invalid", "limit-reached" beyond MOST_TOKENS that work.
    """
    require_admin(actor)
    name, wanted, life = _checked_name(name), _checked_scopes(scopes), timedelta(days=days)
    if not timedelta() < life <= LONGEST_LIFE:
        raise Refused("invalid", f"Give 1 to {LONGEST_LIFE.days} days.", field="days")
    lock_admins()  # two at once do not both make the last one
    if ServiceToken.objects.working(now).count() >= MOST_TOKENS:
        raise Refused(
            "limit-reached", f"{MOST_TOKENS} service tokens work already. Revoke one first."
        )
    secret = PREFIX + new_secret()
    token = ServiceToken.objects.create(
        name=name,
        digest=digest(secret),
        begins=secret[:_BEGINS],
        scopes=wanted,
        made_by=actor,
        made_at=now,
        expires_at=now + life,
    )
    record(actor=actor, verb="made service token", thing=token, now=now)
    return token, secret


def revoke_service_token(*, actor: User, token: ServiceToken, now: datetime) -> ServiceToken:
    """Ends a token for good. Refused: "not-allowed", "already-ended"."""
    require_admin(actor)
    current = ServiceToken.objects.select_for_update(no_key=True).get(pk=token.pk)
    if current.revoked_at is not None:
        raise Refused("already-ended", "This service token has been revoked already.")
    _revoke(current, actor, now)
    return current


def revoke_all_of(maker: User, *, actor: User, now: datetime) -> None:
    """Ends the tokens of somebody who is no longer an admin: a new role brings none back."""
    held = ServiceToken.objects.select_for_update(no_key=True).filter(made_by=maker)
    for token in held.filter(revoked_at__isnull=True).order_by("pk"):
        _revoke(token, actor, now)


def _revoke(token: ServiceToken, actor: User, now: datetime) -> None:
    token.revoked_at = now
    token.save(update_fields=["revoked_at"])
    record(actor=actor, verb="revoked service token", thing=token, fields=["revoked_at"], now=now)


def is_worth_noting(token: ServiceToken, now: datetime) -> bool:
    """Whether to store this use: once a day."""
    return token.last_used_on != now.date()


def note_use(*, token: ServiceToken, now: datetime) -> None:
    """Stores the day of this use, in UTC. Nobody acted, so there is no audit row."""
    ServiceToken.objects.filter(pk=token.pk).update(last_used_on=now.date())


def _checked_name(name: str) -> str:
    name = name.strip()
    if not name or len(name) > LONGEST_NAME:
        raise Refused(
            "invalid",
            f"Give the program’s name, in up to {LONGEST_NAME} characters.",
            field="name",
        )
    return name


def _checked_scopes(scopes: Collection[str]) -> list[str]:
    wanted = [scope.value for scope in Scope if scope.value in scopes]
    if not wanted or len(wanted) < len(set(scopes)):
        raise Refused("invalid", "Choose at least one scope, each from the list.", field="scopes")
    return wanted
