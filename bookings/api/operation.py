"""How a verb of a call is declared.

Its name, what it takes and answers, the header fields it sends, and what it may refuse.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, TypeVar

from drf_spectacular.utils import extend_schema

F = TypeVar("F", bound=Callable[..., Any])
HEADERS: Mapping[str, tuple[str, str]] = {
    "ETag": ("The version of what is shown: send it back in If-Match.", '^"[!#-~]+"$'),
    "Location": ("Where it can be read.", "^/"),
    "Content-Disposition": ("The name under which to keep the file.", "^attachment; filename="),
}


@dataclass(frozen=True, slots=True)
class Declared:
    """`headers` come with every success.

    `refused` are the statuses that do not follow from how the verb is called.
    """

    headers: tuple[str, ...]
    refused: tuple[int, ...]


def operation(
    name: str, *, headers: tuple[str, ...] = (), refused: tuple[int, ...] = (), **described: Any
) -> Callable[[F], F]:
    """Declares a verb of an ApiView.

    `described` goes to the schema generator: request, responses, parameters, auth.
    """

    def declare(verb: F) -> F:
        verb.declared = Declared(headers, refused)  # type: ignore[attr-defined]
        described_verb: F = extend_schema(operation_id=name, **described)(verb)
        return described_verb

    return declare


def declared(view: Any, verb: str) -> Declared:
    """What a view says of one of its verbs."""
    found: Declared = getattr(view, verb.lower()).declared
    return found
