"""The three profiles of a run: quick (a developer waits for it), ci (before a merge) and long."""

import os
from zlib import crc32

from tests import services

LEFT_TO_CI = "left to PROFILE=ci"
NAME = os.environ.get("PROFILE") or "quick"


def is_thorough() -> bool:
    """Whether this run plays everything, as CI does, and not only what a developer waits for."""
    return NAME in {"ci", "long"}


WALKED = 5
"""Of the cases of a `walk`, a quick run plays one in so many: always the same ones."""


def leaves_out(markers: set[str], *, name: str = "", is_functional: bool = False) -> bool:
    """Whether a test of this name, with these markers, waits for a thorough run.

    `heavy` waits on both databases, and most cases of a `walk` do. What speaks HTTP waits on the
    second, unless it is about that database. Of what a browser shows, a quick run plays the tests
    marked `journey`.
    """
    if is_thorough():
        return False
    return (
        "heavy" in markers
        or ("walk" in markers and crc32(name.encode()) % WALKED > 0)
        or (is_functional and services.on_postgres() and "postgres" not in markers)
        or ("browser" in markers and "journey" not in markers)
    )
