"""What a client saw of one request: the line of a history."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Event:
    """One request as a client saw it.

    Times are seconds of time.monotonic() of this machine, comparable across processes.

    Beside what was sent, `arguments` names the "student" and, where the address says it, the
    "booking", "meeting" or "feed"; "key" is the Idempotency-Key, "if_match" the version that a
    change named, "secret" the address that a fetch asked for.
    """

    client: int
    # "book-slot" "book-place" "cancel" "move" "move-pair" "wait" "leave-list" "accept" "decline"
    # "places" "weekly" "days-away" ...
    operation: str
    arguments: Mapping[str, Any]  # as sent, JSON-like, plus "student": id where one is concerned
    called: float
    returned: float | None  # None: the answer never came
    status: int | None  # None: result unknown (timeout, connection cut)
    body: Mapping[str, Any]  # the JSON answer, {} where none
