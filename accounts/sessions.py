"""What keeps a person signed in: their browsers' sessions and their programs' tokens."""

from datetime import datetime

from django.apps import apps
from django.contrib.sessions.models import Session
from django.db.models import F, QuerySet

from accounts.models import User


def tokens() -> QuerySet:
    """The tokens of the API. They are a library's rows, which only the API may import."""
    return apps.get_model("knox", "AuthToken").objects.all()


def end_sessions_and_tokens(user: User) -> None:
    """Ends every session and every token of this person, for good.

    For a write: call it in the transaction of what makes it needed. A page that keeps its own
    reader signed in calls `django.contrib.auth.update_session_auth_hash(request, user)` afterwards
    with the same `user`.
    """
    User.objects.filter(pk=user.pk).update(session_epoch=F("session_epoch") + 1)
    user.refresh_from_db(fields=["session_epoch"])
    tokens().filter(user=user).delete()


def forget_expired(*, now: datetime) -> None:
    """Deletes what has expired. `now` is the machine's clock, by which the libraries stamped it."""
    Session.objects.filter(expire_date__lt=now).delete()
    tokens().filter(expiry__lt=now).delete()
