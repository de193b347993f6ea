"""Interfaces translate in, make one domain call and translate out: they hold no query and no lock."""

import re

from tests.architecture.tree import ROOT, python_files

INTERFACES = re.compile(
    r"bookings/(api|pages|management)/|bookings/(feeds|health|metrics|admin|tasks)\.py$"
)
ASKS = re.compile(r"\.objects\b|select_for_update|transaction\.atomic|prefetch_related\(")
# Pages that still ask the database themselves. A file leaves this list when its reads have moved to queries/.
STILL = {
    f"bookings/pages/{name}.py"
    for name in (
        "asking",
        "briefs",
        "calendars",
        "entry",
        "forms",
        "hours",
        "lessons",
        "term_forms",
        "terms",
        "times",
        "weekly",
        "why",
    )
}


def asking() -> set[str]:
    """The interfaces' files that ask the database."""
    return {
        str(path)
        for path in python_files("bookings")
        if INTERFACES.match(str(path)) and ASKS.search((ROOT / path).read_text())
    }


def test_no_interface_asks_the_database() -> None:
    """Queries are in queries/ and access/, locks and transactions in operations/ and the door."""
    assert asking() - STILL == set()


def test_files_that_no_longer_ask_have_left_the_list() -> None:
    """The list only shrinks."""
    assert asking() >= STILL
