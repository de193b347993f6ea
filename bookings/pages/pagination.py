"""Lists in pages: one page of rows, and how many pages there are."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet


@dataclass(frozen=True, slots=True)
class Page:
    """One page of rows out of `count`; `size` rows make a page."""

    rows: list[Any]
    number: int
    count: int
    size: int

    def __iter__(self) -> Iterator[Any]:
        return iter(self.rows)

    @property
    def num_pages(self) -> int:
        """How many pages there are: at least one."""
        return max(1, -(-self.count // self.size))

    @property
    def has_previous(self) -> bool:
        return self.number > 1

    @property
    def has_next(self) -> bool:
        return self.number < self.num_pages

    @property
    def has_other_pages(self) -> bool:
        return self.num_pages > 1

    @property
    def previous_page_number(self) -> int:
        return self.number - 1

    @property
    def next_page_number(self) -> int:
        return self.number + 1


def nothing(size: int) -> Page:
    """The page of a list without rows."""
    return Page([], 1, 0, size)


def paginate(rows: QuerySet[Any, Any] | Sequence[Any], asked: str | None, *, size: int) -> Page:
    """The page of the number that an address asks for: the first if it is no page number, the last
    if there are fewer pages. Two queries for a QuerySet.
    """
    count = rows.count() if isinstance(rows, QuerySet) else len(rows)
    last = max(1, -(-count // size))
    number = int(asked) if asked and asked.isdecimal() and len(asked) < 6 else 1
    number = min(max(number, 1), last)
    found = rows[(number - 1) * size : number * size] if count else []
    return Page(list(found), number, count, size)
