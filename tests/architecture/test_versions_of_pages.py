"""What a page asks is answered for the state that it showed."""

import ast
from collections.abc import Iterator

from tests.architecture.tree import parsed, python_files

BINDING = {"version", "meeting_version", "seen"}
UNBOUND = {
    ("bookings/pages/busy.py", "remove_calendar"): "each reading counts it up; it goes either way",
    ("bookings/pages/busy.py", "ask_again"): "reads again whatever it is by now",
}
"""Calls without the version that their page showed, and why."""


def _bindable() -> set[str]:
    """The operations of somebody that take the version of what was read."""
    found = set()
    for path in python_files("bookings"):
        if path.parts[1] != "operations":
            continue
        for node in ast.walk(parsed(path)):
            if isinstance(node, ast.FunctionDef):
                names = {argument.arg for argument in node.args.kwonlyargs}
                if "actor" in names and names & BINDING:
                    found.add(node.name)
    return found


def _calls() -> Iterator[tuple[str, str, set[str]]]:
    """Each call in a page's module: where, what, and the names that it is given."""
    for path in python_files("bookings"):
        if path.parts[1] != "pages":
            continue
        for node in ast.walk(parsed(path)):
            if not isinstance(node, ast.Call):
                continue
            called = node.func
            name = called.attr if isinstance(called, ast.Attribute) else getattr(called, "id", "")
            given = {keyword.arg or "**" for keyword in node.keywords}
            if "actor" in given:
                yield str(path), name, given


def test_each_page_sends_the_version_that_it_showed() -> None:
    """A button pressed on an older page changes nothing that its reader has not seen. Values that
    come as `**` are a form's, which holds the version.
    """
    bindable = _bindable()
    unbound = {
        (path, name)
        for path, name, given in _calls()
        if name in bindable and not given & {*BINDING, "**"}
    }
    assert unbound == set(UNBOUND)
