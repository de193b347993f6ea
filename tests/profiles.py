"""The three profiles of a run: quick (a developer waits for it), ci (before a merge) and long."""

import os
from zlib import crc32

from tests import services

LEFT_TO_CI = "left to PROFILE=ci"
NAME = os.environ.get("PROFILE") or "quick"


def is_thorough() -> bool:
    """Whether this run plays everything, as CI does, and not only what a developer waits for."""
    return NAME in {"ci", "long"}


SAMPLED = 8
"""Of what uses the database or HTTP, a quick run of the whole suite plays one test in so many."""


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
        or (not is_journey and crc32(name.encode()) % sample > 0)
    )
