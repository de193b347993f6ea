"""API tokens: made when somebody signs in, ended when they sign out or change their password."""

from datetime import datetime
from typing import Any

from django.apps import apps
from django.db.models import QuerySet

from accounts.models import User
from bookings.operations.keys import check_tokens


def make_token(user: User, *, now: datetime) -> tuple[Any, str]:
    """A token and its text, which is shown once. `now` is the machine's clock, which sets expiry.

    Expired ones go. Refused("limit-reached") where the person holds as many as they may.
    """
    held = _held(user)
    held.filter(expiry__lte=now).delete()
    check_tokens(actor=user, tokens=held)
    made: tuple[Any, str] = held.model.objects.create(user)
    return made


def end_all_tokens(user: User) -> None:
    """Every token of this person ends."""
    _held(user).delete()


def _held(user: User) -> QuerySet[Any]:
    # By its name: the REST framework, which the table's library stands on, is the API's alone.
    tokens: QuerySet[Any] = apps.get_model("knox", "AuthToken").objects.filter(user=user)
    return tokens
