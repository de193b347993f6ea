"""Every body and every query string is judged alike: what is not known, not of its type or sent
twice is refused at its place.

The operations and their members are those of the schema; what makes a valid request is the
authorisation matrix's.
Common practice; RFC 7493 section 2.3 for members that come twice.
"""

import json
from collections.abc import Iterator
from typing import Any
from urllib.parse import quote

import pytest

from tests.functional.api.judging import Caller, form_of, kind_of, members, parameters, whole
from tests.functional.api.matrix import MATRIX
from tests.functional.api.world import World

pytestmark = pytest.mark.one_database

WRONG: dict[str, list[Any]] = {
    "integer": ["1", 1.5, True, [], {}],
    "string": [5, True, [], {}],
    "boolean": ["yes", "true", 1, 0, [], {}],
    "array": ["x", {}, 5],
    "object": ["x", [], 5],
}
NO_INTEGERS = ["x", "1.0", "+1", "1_0", "", " 1", "true", "1e2", "\uff11", "9" * 30]
FAR = [
    "0001-01-01",
    "9999-12-31",
    "0001-01-01T00:00:00Z",
    "0001-01-01T00:00:00+14:00",
    "0001-01-01T00:00:00-12:00",
    "9999-12-31T23:59:59+14:00",
    "9999-12-31T23:59:59-12:00",
    "0001-01-01T00:00",
    "9999-12-31T23:59:59",
]
TIMES = {"from", "to", "starts_at"}
"""Members that hold an instant or a day; the schema gives a format to the others."""


CELLS = sorted(MATRIX)


@pytest.mark.parametrize("cell", CELLS, ids=" ".join)
def test_what_a_call_does_not_know_is_refused_at_its_place(
    world: World, cell: tuple[str, str]
) -> None:
    """A member or parameter that would be dropped in silence: `{"reason": "ill"}` where no reason
    is read."""
    caller = Caller(world, cell)
    caller.refuses_at("#/surprise", query="surprise=1")
    if caller.verb != "GET":
        caller.refuses_at("#/surprise", {**caller.body, "surprise": 1})
    for name, part in members(*cell).items():
        for pointer, value in _inside(name, whole(part)):
            caller.refuses_at(pointer, {**caller.body, name: value})


def _inside(name: str, part: dict[str, Any]) -> Iterator[tuple[str, Any]]:
    """A member that is not known inside an object, or inside each of a list of objects."""
    if part.get("properties"):
        yield f"#/{name}/surprise", {"surprise": 1}
    if whole(part.get("items", {})).get("properties"):
        yield f"#/{name}/0/surprise", [{"surprise": 1}]


def _is_nullable(part: dict[str, Any]) -> bool:
    """Whether a member may be null: by its type, or as one of several alternatives."""
    alternatives = str(part.get("oneOf", ""))
    by_alternative = "NullEnum" in alternatives or "'null'" in alternatives
    return "null" in (part.get("type") or "") or by_alternative


@pytest.mark.parametrize("cell", [cell for cell in CELLS if members(*cell)], ids=" ".join)
def test_a_member_of_another_type_is_refused_at_its_place(
    world: World, cell: tuple[str, str]
) -> None:
    """JSON has types: "yes" is no true, "1" is no 1, and nobody has to guess what was meant.

    Source: OWASP ASVS 5.0.0, V2.2.1.
    """
    caller = Caller(world, cell)
    for name, part in form_of(*cell, MATRIX[cell].body(world)).items():
        found = whole(part)
        nothing = [] if _is_nullable(found) else [None]
        for value in WRONG[kind_of(found)] + nothing:
            caller.refuses_at(f"#/{name}", {**caller.body, name: value})


@pytest.mark.parametrize("cell", [cell for cell in CELLS if parameters(*cell)], ids=" ".join)
def test_a_parameter_that_is_wrong_or_comes_twice_is_refused_at_its_place(
    world: World, cell: tuple[str, str]
) -> None:
    """A number in an address is written as digits; of two values nobody knows which was meant.

    Source: OWASP ASVS 5.0.0, V15.3.7.
    """
    caller = Caller(world, cell)
    caller.path = caller.path.partition("?")[0]
    for name, part in parameters(*cell).items():
        caller.refuses_at(f"#/{name}", query=f"{name}=1&{name}=1")
        if kind_of(part) == "integer":
            for value in NO_INTEGERS:
                reply = caller.send(caller.body or None, query=f"{name}={quote(value)}")
                assert reply.status == 422, (name, value, reply.body)
                pointers = {error["pointer"] for error in reply.json["errors"]}
                assert f"#/{name}" in pointers, (name, value, reply.body)


@pytest.mark.parametrize("cell", [cell for cell in CELLS if cell[0] != "GET"], ids=" ".join)
def test_a_member_that_comes_twice_is_refused(world: World, cell: tuple[str, str]) -> None:
    """RFC 7493 section 2.3: of two members of one name readers take either, so neither is taken.

    Source: OWASP ASVS 5.0.0, V1.5.3.
    """
    caller = Caller(world, cell)
    inner = json.dumps({**caller.body, "last": 1})
    for raw in (f'{inner[:-1]}, "last": 1}}', f'{{"outer": [{inner[:-1]}, "last": 2}}]}}'):
        reply = caller.send(raw=raw.encode())
        assert (reply.status, reply.code) == (400, "malformed"), (cell, reply.body)
        assert "last" in reply.json["detail"]


@pytest.mark.parametrize("cell", CELLS, ids=" ".join)
def test_dates_at_the_ends_of_the_calendar_are_refused(world: World, cell: tuple[str, str]) -> None:
    """The years 1 and 9999, and offsets that push an instant out of them: 422 at every date and
    instant, never a fault."""
    caller = Caller(world, cell)
    for name, part in members(*cell).items():
        if name in TIMES or whole(part).get("format") in ("date", "date-time"):
            for value in FAR:
                caller.refuses_at(f"#/{name}", {**caller.body, name: value})
    address, _, kept = caller.path.partition("?")
    for name, part in parameters(*cell).items():
        if name in TIMES or part.get("format") in ("date", "date-time"):
            others = [pair for pair in kept.split("&") if pair and not pair.startswith(f"{name}=")]
            caller.path = "?".join(filter(None, [address, "&".join(others)]))
            for value in FAR:
                caller.refuses_at(f"#/{name}", query=f"{name}={quote(value)}")


def test_the_walk_finds_members_and_parameters() -> None:
    """Were the schema read wrongly, the tests above would pass for nothing."""
    assert {"starts_at", "intake", "meeting"} <= set(members("POST", "bookings/"))
    assert {"from", "to", "student", "page_size"} <= set(parameters("GET", "bookings/"))
    assert sum(len(members(*cell)) for cell in CELLS) > 70
