"""API tokens: made when somebody signs in, ended when they sign out or change their password."""

from datetime import datetime
from typing import Any

from django.apps import apps
from django.db.models import QuerySet

from accounts.models import User
from bookings.operations.limits import check_tokens


def make_token(user: User, *, now: datetime) -> tuple[Any, str]:
    """Makes a token; returns it with its text, which is shown once. Deletes expired tokens.

    `now` is the machine's clock, by which tokens expire. Refused("limit-reached").
    """
    held = _held(user)
    held.filter(expiry__lte=now).delete()
    check_tokens(actor=user, tokens=held)
    made: tuple[Any, str] = held.model.objects.create(user)
    return made


def end_all_tokens(user: User) -> None:
    """Deletes every token of this person."""
    _held(user).delete()


def _held(user: User) -> QuerySet[Any]:
    # By name: an import would pull in the REST framework, which only the API may import.
    tokens: QuerySet[Any] = apps.get_model("knox", "AuthToken").objects.filter(user=user)
    return tokens
