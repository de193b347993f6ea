"""Watches which rows of ours are written while the write door is open, and which are not."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

import pytest
from django.db import connection

from bookings import door

# The account library's own pages write a user's password and last sign-in; everything else of ours
# belongs to the door.
_OURS = re.compile(
    r'^(?:INSERT INTO|UPDATE|DELETE FROM) "(bookings_\w+|knox_\w+|accounts_(?!user")\w+)"'
)


@dataclass(slots=True)
class Seen:
    """How often the door was entered, and the writes that did not go through it."""

    entered: int = 0
    outside: list[str] = field(default_factory=list)


@contextmanager
def written_outside_the_door(monkeypatch: pytest.MonkeyPatch) -> Iterator[Seen]:
    """Counts for as long as it is open; the code under test is otherwise left as it is."""
    seen, depth = Seen(), 0
    transaction = door._with_retries

    def watched(act: Any) -> Any:
        nonlocal depth
        seen.entered += 1
        depth += 1
        try:
            return transaction(act)
        finally:
            depth -= 1

    def look(execute: Any, sql: str, *rest: Any) -> Any:
        if depth == 0 and _OURS.match(sql):
            seen.outside.append(sql)
        return execute(sql, *rest)

    with monkeypatch.context() as patched, connection.execute_wrapper(look):
        patched.setattr(door, "_with_retries", watched)
        yield seen
