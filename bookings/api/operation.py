"""How a verb of a call is declared.

Its name, what it takes and answers, the header fields it sends, and what it may refuse.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, TypeVar

from drf_spectacular.utils import extend_schema

from bookings.api.paging import PageAsked
from bookings.domain.scopes import Access

F = TypeVar("F", bound=Callable[..., Any])
HEADERS: Mapping[str, tuple[str, str]] = {
    "ETag": ("The version of what is shown: send it back in If-Match.", '^"[!#-~]+"$'),
    "Location": ("Where it can be read.", "^/"),
    "Content-Disposition": ("The name under which to keep the file.", "^attachment; filename="),
}


@dataclass(frozen=True, slots=True)
class Declared:
    """`headers` come with every success.

    `refused` are the statuses that do not follow from how the verb is called. `scope` is what a
    service token needs, or PEOPLE; None where the verb does not say, which a test finds.
    """

    headers: tuple[str, ...]
    refused: tuple[int, ...]
    scope: Access | None
    listing: type[PageAsked] | None = None
    """How its rows are asked for, where it answers with a list."""


def operation(
    name: str,
    *,
    scope: Access | None = None,
    headers: tuple[str, ...] = (),
    refused: tuple[int, ...] = (),
    **described: Any,
) -> Callable[[F], F]:
    """Declares a verb of an ApiView.

    `scope` is what a service token needs for it, or PEOPLE where only people may use it.
    `described` goes to the schema generator: request, responses, parameters, auth.
    """

    def declare(verb: F) -> F:
        listing = next(filter(_is_listing, described.get("parameters", ())), None)
        verb.declared = Declared(headers, refused, scope, listing)  # type: ignore[attr-defined]
        described_verb: F = extend_schema(operation_id=name, **described)(verb)
        return described_verb

    return declare


def _is_listing(parameter: object) -> bool:
    return isinstance(parameter, type) and issubclass(parameter, PageAsked)


def declared(view: Any, verb: str) -> Declared:
    """What a view says of one of its verbs."""
    found: Declared = getattr(view, verb.lower()).declared
    return found
