"""The three profiles of a run: quick (a developer waits for it), ci (before a merge) and long."""

import os

from tests import services

LEFT_TO_CI = "left to PROFILE=ci"
NAME = os.environ.get("PROFILE") or "quick"


def is_thorough() -> bool:
    """Whether this run plays everything, as CI does, and not only what a developer waits for."""
    return NAME in {"ci", "long"}


def leaves_out(markers: set[str]) -> bool:
    """Whether a test with these markers waits for a thorough run.

    `heavy` waits on both databases, `both_in_ci` on the second. Of what a browser shows, a quick
    run plays the tests marked `journey`.
    """
    if is_thorough():
        return False
    return (
        "heavy" in markers
        or ("both_in_ci" in markers and services.on_postgres())
        or ("browser" in markers and "journey" not in markers)
    )
