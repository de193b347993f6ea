"""The three profiles of a run: quick (a developer waits for it), ci (before a merge) and long."""

import os
from zlib import crc32

from tests import services

LEFT_TO_CI = "left to PROFILE=ci"
LEFT_TO_SQLITE = "played on SQLite alone"
NAME = os.environ.get("PROFILE") or "quick"


def is_thorough() -> bool:
    """Whether this run plays everything, as CI does, and not only what a developer waits for."""
    return NAME in {"ci", "long"}


SAMPLED = 8
"""Of what uses the database or HTTP, a quick run of the whole suite plays one test in so many."""
SAMPLED_ON_POSTGRES = 4
"""Of the plain calls and pages, CI plays one in so many on PostgreSQL; see `is_left_to_sqlite`."""


def leaves_out(
    markers: set[str], *, name: str = "", is_functional: bool = False, sample: int = 1
) -> bool:
    """Whether a test of this name, with these markers, waits for a thorough run.

    `heavy` waits. What speaks HTTP waits on the second database, unless it is about that one. Of
    what a browser shows, a quick run plays the tests marked `journey`. Of the others one in
    `sample` is played, always the same ones.
    """
    if is_thorough():
        return False
    is_journey = "journey" in markers
    return (
        "heavy" in markers
        or (is_functional and services.on_postgres() and "postgres" not in markers)
        or ("browser" in markers and not is_journey)
        or (not is_journey and not _is_sampled(name, sample))
    )


def is_left_to_sqlite(markers: set[str], *, name: str, is_plain: bool, sample: int) -> bool:
    """Whether CI plays this test of the whole suite on SQLite alone; `long` plays it on both.

    On PostgreSQL all of tests/integration is played, which asks every query and does every write,
    and all of tests/races. A plain test speaks to the API or to a page, and commits nothing. It
    finds the same operations there, so one in four is played, always the same ones. A test marked
    `sql` (a search, an order, a sum, a lock, a text that a database may refuse), `heavy` or for one
    service is played whole.
    """
    return (
        NAME == "ci"
        and services.on_postgres()
        and sample > 1
        and is_plain
        and not markers & {"sql", "heavy", "postgres", "redis"}
        and not _is_sampled(name, SAMPLED_ON_POSTGRES)
    )


def _is_sampled(name: str, one_in: int) -> bool:
    return crc32(name.encode()) % one_in == 0
