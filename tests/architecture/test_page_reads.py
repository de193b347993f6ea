"""Pages translate and hand on: what they show is read in queries/, and what they lock is locked in operations/."""

import re

from tests.architecture.tree import ROOT, python_files

READS = re.compile(r"\.objects\b|\.select_related\(|\.prefetch_related\(|\.select_for_update\(")
# Each leaves this list when its reads have moved to queries/.
STILL_READING = {
    "briefs.py",
    "entry.py",
    "forms.py",
    "lessons.py",
    "meetings.py",
    "roster.py",
    "term_forms.py",
    "times.py",
    "weekly.py",
    "why.py",
}


def test_pages_read_nothing_themselves() -> None:
    """No page but those still on the list asks a table for its rows."""
    pages = [path for path in python_files() if path.parts[:2] == ("bookings", "pages")]
    reading = {path.name for path in pages if READS.search((ROOT / path).read_text("utf-8"))}
    assert pages
    assert reading - STILL_READING == set()
