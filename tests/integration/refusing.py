"""A mail server that refuses what it is told to refuse."""

from typing import Any

from django.core.mail.backends.base import BaseEmailBackend


class Refusing(BaseEmailBackend):
    """A mail server that answers everything with `error`, or takes it."""

    error: Exception | None = None

    def send_messages(self, messages: Any) -> int:
        if Refusing.error is not None:
            raise Refusing.error
        return len(messages)
