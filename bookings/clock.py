"""The clock that interfaces read, and only they. Everything below takes `now`.

Under demo settings it starts at DEMO_START and runs, so that the story crosses the American clock
change of 14 March 2027 on whatever date it is told. Several demo processes share one clock through
LEVARE_DEMO_BEGAN, a POSIX time in seconds.
"""

import os
import time
from datetime import UTC, datetime, timedelta

from django.conf import settings

BEGAN = float(os.environ.get("LEVARE_DEMO_BEGAN") or time.time())
"""POSIX seconds at which the demo clock began; handed on as LEVARE_DEMO_BEGAN."""


def now() -> datetime:
    """The present instant, aware, UTC."""
    start: datetime | None = settings.DEMO_START
    if start is not None and settings.PROFILE == "demo":
        return start + timedelta(seconds=time.time() - BEGAN)
    return machine()


def machine() -> datetime:
    """The machine's own clock, for what a library has stamped with it, such as a token's expiry."""
    return datetime.now(UTC)
