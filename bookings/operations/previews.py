"""An act is carried out and taken back, to show what it would do."""

from collections.abc import Callable
from typing import Any, TypeVar

from django.db import transaction

Seen = TypeVar("Seen")


class _TakenBack(Exception):
    """Ends the savepoint of a preview, with what was seen in it."""

    def __init__(self, seen: Any) -> None:
        super().__init__()
        self.seen = seen


def taken_back(act: Callable[[], Seen]) -> Seen:
    """What `act` returns, while nothing that it wrote stays; a refusal is raised as it is.

    It joins the caller's transaction, and keeps the locks that the act has taken until that ends.
    """
    try:
        with transaction.atomic():
            raise _TakenBack(act())
    except _TakenBack as done:
        seen: Seen = done.seen
        return seen
