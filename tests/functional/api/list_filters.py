"""What each filter of a list is compared with in a row, for the tests of all lists."""

from collections.abc import Callable, Iterator
from typing import Any

Row = dict[str, Any]

FIRST, LAST = "2001-01-01T00:00:00Z", "2199-01-01T00:00:00Z"
TIMES = {
    "bookings/": "starts_at",
    "meetings/": "starts_at",
    "cover-questions/": "starts_at",
    "load-allowances/": "starts_at",
    "plans/": "made_at",
    "owed-lessons/": "owed_at",
    "statements/": "issued_at",
    "students/<id:pk>/assessments/": "released_at",
}
"""The member that `from` and `to` of a list bound."""


def named(member: str) -> Callable[[Row], Any]:
    """The id of what a member names; a member that is an id already is itself."""

    def read(row: Row) -> Any:
        value = row.get(member)
        return value["id"] if isinstance(value, dict) else value

    return read


def _truth(is_so: Callable[[Row], bool]) -> Callable[[Row], str]:
    return lambda row: "true" if is_so(row) else "false"


MEMBERS: dict[str, Callable[[Row], Any]] = {
    **{
        name: named(name)
        for name in (
            *("student", "meeting", "term", "guardian"),
            *("standing", "kind", "cause", "as"),
        )
    },
    # A person has several roles; an instructor teaches several offerings, at several levels.
    "role": lambda row: row["roles"] if "roles" in row else row["role"],
    "offering": lambda row: (
        [one["offering"]["id"] for one in row["teaches"]]
        if "teaches" in row
        else named("offering")(row)
    ),
    "level": lambda row: (
        list(range(row["lowest_level"], row["highest_level"] + 1))
        if "lowest_level" in row
        else row["level"]
    ),
    # A note has an author, who is the instructor.
    "instructor": lambda row: named("instructor")(row) or named("author")(row),
    "barred": _truth(lambda row: row["bar"] is not None),
    "still_owed": _truth(lambda row: row["closed_at"] is None and row["make_up"] is None),
    "without_next_meeting": _truth(lambda row: row["next_booking"] is None),
    "minor": _truth(lambda row: row["minor"]),
    "from": lambda row: row,
    "to": lambda row: row,
}
"""The value by which a row passes each filter, or all of them."""
THEIR_OWN = {"q", "due", "active", "is_open"}
"""Filters that have tests of their own: words that are found, reviews that are due, and who has
left or what is closed, which no list shows unasked.
"""


def values_of(pattern: str, name: str, rows: list[Row]) -> Iterator[tuple[Any, list[Row]]]:
    """Each value of a filter among these rows, with the rows that it lets through; and a value
    that no row has.
    """
    if name in ("from", "to"):
        yield from _bounds(TIMES[pattern], name, rows)
        return

    def held(row: Row) -> list[Any]:
        value = MEMBERS[name](row)
        return value if isinstance(value, list) else [value]

    for value in {value for row in rows for value in held(row)} - {None}:
        yield value, [row for row in rows if value in held(row)]
    if name in ("student", "offering", "meeting", "term", "guardian"):
        yield 987_654_321, []


def _bounds(member: str, name: str, rows: list[Row]) -> Iterator[tuple[str, list[Row]]]:
    yield (FIRST, rows) if name == "from" else (LAST, rows)
    # All of these members are in UTC, written alike: they compare as they are spelt.
    for at in {row[member] for row in rows}:
        is_in = at.__le__ if name == "from" else at.__gt__
        yield at, [row for row in rows if is_in(row[member])]
