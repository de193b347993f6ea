"""What a marked test needs of its machine, and in which words it is skipped without it."""

import importlib.util
import os
import shutil

from django.conf import settings

OTHER_PASS = "runs in the other pass"
CHROMIUM = shutil.which("chromium") or "/usr/bin/chromium"


def required() -> bool:
    """Whether a missing service is a failure (REQUIRE_SERVICES=1), as it is in CI."""
    return os.environ.get("REQUIRE_SERVICES", "") not in {"", "0"}


def on_postgres() -> bool:
    return bool(settings.DATABASES["default"]["ENGINE"].endswith("postgresql"))


def belongs_elsewhere(markers: set[str]) -> bool:
    """Whether the test waits for the other pass.

    PostgreSQL and Redis are served together there, never on SQLite. What a browser or a calendar
    reader sees, and what is marked `one_database`, does not depend on the database: it is looked at
    once, on SQLite.
    """
    once = {"browser", "node", "one_database"}
    return bool(markers & (once if on_postgres() else {"postgres", "redis"}))


def missing(marker: str) -> str | None:
    """A plain reason why this machine cannot run a test with that marker, or None where it can."""
    if marker == "redis" and not settings.REDIS_URL:
        return "Redis does not answer"
    if marker == "node" and not (shutil.which("node") and shutil.which("npm")):
        return "node and npm are not installed"
    if marker == "browser" and not os.access(CHROMIUM, os.X_OK):
        return "chromium is not installed"
    if marker == "browser" and importlib.util.find_spec("playwright") is None:
        return "requirements/browser.txt is not installed"
    return None
