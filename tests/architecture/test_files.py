"""Files stay small, have names that say something, carry no address of one machine, and every test
says what it shows.
"""

import ast
import re
from pathlib import Path

from tests.architecture.tree import ROOT, kept_files, parsed, python_files

LONGEST = 250
WIDEST = 100
CODE = {".py", ".pyi", ".js", ".mjs"}
TO_BE_SPLIT: set[str] = set()
ROOMS_WITHOUT_A_NAME = {"utils", "helpers", "common", "misc"}
# Folders of one machine, and the shapes that package registries' addresses take in lock and
# settings files.
MACHINE = re.compile(
    "|".join(
        [
            r"(?<![\w.])/(?:root|home|Users|work)/",
            r"--(?:extra-)?index-" r"url",
            r"https?://[^\s\"']*/sim" r"ple/",
            r"/pack" r"ages/[0-9a-f]{2}/",
            r"\"reso" r"lved\":",
            r"https?://(?:registry|pypi|files\.pythonhosted|deb)\.",
        ]
    )
)


def test_files_stay_short() -> None:
    """A file of more than 250 lines has more than one thing to say; migrations are written by
    machine and left out.
    """
    counted = {
        path: (ROOT / path).read_text(encoding="utf-8").count("\n")
        for path in python_files()
        if "migrations" not in path.parts
    }
    long = {str(path): lines for path, lines in counted.items() if lines > LONGEST}
    assert set(long) - TO_BE_SPLIT == set()
    assert TO_BE_SPLIT - set(long) == set()


def test_lines_stay_short() -> None:
    """No line of code is wider than 100 signs, with all that stands behind it: ruff leaves out what
    ends in a comment for a tool. Pages are no code: their blanks count, and their lines stay whole.
    """
    too_wide = [
        f"{path}:{number}"
        for path in kept_files()
        if path.suffix in CODE and "migrations" not in path.parts
        for number, line in enumerate(_lines(path), 1)
        if len(line) > WIDEST
    ]
    assert too_wide == []


def _lines(path: Path) -> list[str]:
    return (ROOT / path).read_text(encoding="utf-8").split("\n")


def test_names_say_what_is_inside() -> None:
    """No file or folder is called utils, helpers, common or misc, because nothing can be looked for
    there.
    """
    vague = [
        str(path)
        for path in kept_files()
        if {part.partition(".")[0] for part in path.parts} & ROOMS_WITHOUT_A_NAME
    ]
    assert vague == []


def test_nothing_belongs_to_one_machine() -> None:
    """No kept file names a folder of one machine or the address of a package registry."""
    found = []
    for path in kept_files():
        try:
            text = (ROOT / path).read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue
        found += [f"{path}: {match.group()}" for match in MACHINE.finditer(text)]
    assert found == []


def test_each_test_says_what_it_shows() -> None:
    """Every test function carries one plain sentence; a list of the suite's docstrings reads as
    what the product promises.
    """
    silent = []
    for path in python_files("tests"):
        for node in ast.walk(parsed(path)):
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
                sentence = (ast.get_docstring(node) or "").strip()
                if not re.search(r"\w+ \w+.*[.!?:]", sentence, re.DOTALL):
                    silent.append(f"{path}:{node.lineno} {node.name}")
    assert silent == []


def test_no_test_is_put_aside() -> None:
    """A test may wait for its database or its program (skipif, a marker); none is skipped for good
    or expected to fail.
    """
    aside = []
    for path in python_files("tests"):
        for node in ast.walk(parsed(path)):
            if (
                isinstance(node, ast.Attribute)
                and node.attr in {"skip", "xfail"}
                and "mark" in ast.unparse(node.value)
            ):
                aside.append(f"{path}:{node.lineno}")
    assert aside == []


def test_each_decision_names_code_that_is_there() -> None:
    """A file that a decision points to exists, so that the reasons are found from the code and
    back.
    """
    missing = []
    for path in sorted((ROOT / "docs" / "decisions").glob("*.md")):
        for line in path.read_text(encoding="utf-8").splitlines():
            if line.startswith("In code:"):
                names = re.findall(r"`([\w/]+\.py)`", line)
                places = [(ROOT / name, ROOT / "bookings" / name) for name in names]
                missing += [
                    f"{path.name}: {name}"
                    for name, either in zip(names, places, strict=True)
                    if not any(place.exists() for place in either)
                ]
    assert missing == []
