"""The schema tells the truth: its defaults are taken, its objects are closed, and whatever a
problem holds is described.
"""

import ast
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

import bookings
from bookings.api.problem_schemas import MEMBERS
from bookings.api.problems import UNTOLD, on_the_wire
from bookings.domain.errors import CODES
from tests.functional.api.client import schema

pytestmark = pytest.mark.one_database

HERE = Path(bookings.__file__).parent


PAGES_ONLY = {"file", "lowest_level", "text", "version", "why"}
"""Fields of a file of people, of who teaches what, of the consent's text and of a bar, which admins
write on pages alone.
"""


def _operations() -> Iterator[dict[str, Any]]:
    for verbs in schema()["paths"].values():
        yield from verbs.values()


def _asked() -> dict[str, Any]:
    """The components of requests."""
    return {
        name: component
        for name, component in schema()["components"]["schemas"].items()
        if name.endswith("Request")
    }


def _refusals() -> Iterator[tuple[str, set[str], str]]:
    """Every Refused(code, sentence, ...) of the source: its code, the names of its data, and the
    field that it names.
    """
    for path in sorted(set(HERE.rglob("*.py")) - set((HERE / "pages").rglob("*.py"))):
        for call in ast.walk(ast.parse(path.read_text())):
            if not isinstance(call, ast.Call) or getattr(call.func, "id", "") != "Refused":
                continue
            code = call.args[0].value if isinstance(call.args[0], ast.Constant) else ""
            data = {word.arg: word.value for word in call.keywords if word.arg is not None}
            field = data.pop("field", None)
            named = str(field.value) if isinstance(field, ast.Constant) else ""
            yield str(code), set(data) - {"errors"}, named


def test_what_a_refusal_holds_stands_in_the_schema() -> None:
    """Every name of data that the source gives to a refusal is a described member of that code."""
    found = list(_refusals())
    assert len(found) > 100
    for code, names, _ in found:
        if code == "fault":
            continue  # nothing that a call is described to answer
        told = {on_the_wire(name) for name in names - UNTOLD}
        assert not code or told <= set(MEMBERS.get(code, ())), (code, told)


def test_a_pointer_names_a_member_of_a_request() -> None:
    """A refusal points at what was sent by the name it was sent under."""
    named = {
        member for component in _asked().values() for member in component.get("properties", ())
    }
    named |= {asked["name"] for call in _operations() for asked in call.get("parameters", [])}
    fields = {on_the_wire(field.partition("/")[0]) for _, _, field in _refusals() if field}
    fields -= PAGES_ONLY
    assert fields - named == set()


def test_every_code_has_its_status_and_is_described() -> None:
    """Each code stands in exactly one component, with the status that it always has."""
    components = schema()["components"]["schemas"]
    found: dict[str, list[int]] = {}
    for name, component in components.items():
        if name.startswith("Problem") and "properties" in component:
            words = components[component["properties"]["code"]["$ref"].rpartition("/")[2]]
            for code in words["enum"]:
                found.setdefault(code, []).append(component["properties"]["status"]["const"])
    unlisted = {
        "method-not-allowed",
        "fault",
    }  # no call is described as taking another verb or failing
    assert found == {code: [status] for code, (status, _) in CODES.items() if code not in unlisted}


def test_request_objects_are_closed() -> None:
    """An object of a request takes what it names and nothing else, and says so."""
    for name, component in _asked().items():
        assert "oneOf" in component or component["additionalProperties"] is False, name


def _defaults(node: Any) -> Iterator[Mapping[str, Any]]:
    if isinstance(node, Mapping):
        if "default" in node:
            yield node
        for inner in node.values():
            yield from _defaults(inner)
    elif isinstance(node, list):
        for inner in node:
            yield from _defaults(inner)


def test_a_default_is_a_value_that_is_taken() -> None:
    """Who sends the default is answered as who leaves it out: it fits its own description."""
    found = list(_defaults(schema()["paths"])) + list(_defaults(_asked()))
    assert found
    for shape in found:
        whole = {**shape, "components": schema()["components"]}
        Draft202012Validator(whole).validate(shape["default"])


def test_ids_in_addresses_are_whole_numbers() -> None:
    """Each place in an address is an integer from 1."""
    places = [
        asked
        for call in _operations()
        for asked in call.get("parameters", [])
        if asked["in"] == "path"
    ]
    assert len(places) > 30
    assert {(asked["schema"]["type"], asked["schema"]["minimum"]) for asked in places} == {
        ("integer", 1)
    }
