"""Pages of a list without a count of its rows."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet


@dataclass(frozen=True, slots=True)
class Page:
    """One page of rows, and whether there are others. One query."""

    rows: list[Any]
    number: int
    has_next: bool

    def __iter__(self) -> Iterator[Any]:
        return iter(self.rows)

    @property
    def has_previous(self) -> bool:
        return self.number > 1

    @property
    def has_other_pages(self) -> bool:
        return self.has_previous or self.has_next

    @property
    def previous_page_number(self) -> int:
        return self.number - 1

    @property
    def next_page_number(self) -> int:
        return self.number + 1


def paginate(rows: QuerySet[Any] | list[Any], asked: str | None, *, size: int) -> Page:
    """The page of that number; the first if `asked` is no page number. One query for a QuerySet."""
    number = int(asked) if asked and asked.isdecimal() and len(asked) < 6 else 1
    number = max(number, 1)
    found = list(rows[(number - 1) * size : number * size + 1])
    return Page(found[:size], number, len(found) > size)
