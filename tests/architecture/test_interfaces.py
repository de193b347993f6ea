"""Interfaces translate in, make one domain call and translate out: they hold no query, no lock."""

import re

from tests.architecture.tree import ROOT, python_files

INTERFACES = re.compile(
    r"bookings/(admin|api|pages|management)/|bookings/(feeds|health|metrics|tasks)\.py$"
)
ASKS = re.compile(r"\.objects\b|select_for_update|transaction\.atomic|prefetch_related\(")


def asking() -> set[str]:
    """The interfaces' files that ask the database."""
    return {
        str(path)
        for path in python_files("bookings")
        if INTERFACES.match(str(path)) and ASKS.search((ROOT / path).read_text())
    }


def test_no_interface_asks_the_database() -> None:
    """Queries are in queries/ and access/, locks and transactions in operations/ and the door."""
    assert asking() == set()


def test_what_hurts_is_shown_by_the_door_that_records_it() -> None:
    """`access.hurts_for` records nothing: interfaces read by `reading.read_hurts` alone."""
    around = {
        str(path)
        for path in python_files("bookings")
        if INTERFACES.match(str(path)) and "hurts_for" in (ROOT / path).read_text()
    }
    assert around == set()
