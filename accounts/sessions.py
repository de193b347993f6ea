"""A person's open sessions in browsers and their tokens for programs."""

from django.apps import apps
from django.db.models import F, QuerySet

from accounts.models import User


def tokens() -> QuerySet:
    """The API's tokens. Only the API may import the library that owns them."""
    return apps.get_model("knox", "AuthToken").objects.all()


def end_sessions_and_tokens(user: User) -> None:
    """Ends every session and every token of this person, for good.

    Call it in the transaction of the write that makes it needed. A page that keeps its own reader
    signed in then calls `django.contrib.auth.update_session_auth_hash(request, user)` with the same
    `user`.
    """
    User.objects.filter(pk=user.pk).update(session_epoch=F("session_epoch") + 1)
    user.refresh_from_db(fields=["session_epoch"])
    tokens().filter(user=user).delete()
