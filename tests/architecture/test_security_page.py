"""docs/security.md walks two lists from outside: every line of them has tests that exist."""

import ast
import re
from pathlib import Path

from tests.architecture.tree import ROOT, parsed

PAGE = (ROOT / "docs" / "security.md").read_text(encoding="utf-8")
_TEST = re.compile(r"`(tests/[\w/]+\.py)::(\w+)`")
_ROW = re.compile(r"^\| ((?:API|V)[\d.]+)[ |].*$", re.MULTILINE)


def rows() -> dict[str, list[tuple[str, str]]]:
    """The tests of each line, by the id of its risk or requirement."""
    return {row[1]: _TEST.findall(row[0]) for row in _ROW.finditer(PAGE)}


def said_of(path: str, name: str) -> str:
    """The docstring of one test."""
    for node in ast.walk(parsed(Path(path))):
        if isinstance(node, ast.FunctionDef) and node.name == name:
            return ast.get_docstring(node) or ""
    raise AssertionError(f"docs/security.md names {path}::{name}, which is not there")


def test_every_risk_of_the_api_is_walked() -> None:
    """OWASP API Security Top 10, edition of 2023."""
    assert [one for one in rows() if one.startswith("API")] == [f"API{n}" for n in range(1, 11)]


def test_every_line_has_tests_that_exist() -> None:
    """A test that was renamed or has gone is missed here."""
    for tests in rows().values():
        assert tests
        for path, name in tests:
            said_of(path, name)


def test_each_test_names_the_requirement_that_it_stands_for() -> None:
    """So that whoever changes the test knows what else rests on it."""
    requirements = {one: tests for one, tests in rows().items() if one.startswith("V")}
    assert len(requirements) > 20
    for one, tests in requirements.items():
        assert re.fullmatch(r"V\d+\.\d+\.\d+", one)
        for path, name in tests:
            assert re.search(rf"\b{re.escape(one)}\b", said_of(path, name)), (one, name)


def test_each_requirement_comes_once() -> None:
    """Nothing is counted twice."""
    found = _ROW.findall(PAGE)
    assert len(found) == len(set(found))
