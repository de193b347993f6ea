"""Expands a foreign calendar in a process of its own, so that no file can take this one's time or memory."""

import json
import subprocess
import sys
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from bookings.calendars.content_grammar import too_much
from bookings.domain.errors import Refused
from bookings.domain.timeline import CELL, EPOCH, Period

ROOT = Path(__file__).resolve().parent.parent.parent
BEFORE, AHEAD = timedelta(days=1), timedelta(days=366)
"""The window: from a day ago to a year ahead, further than anything can be booked but the end of a long term."""
MOST_BYTES = 2_000_000
PATIENCE = 20.0
"""Seconds by the wall clock, for a machine with much else to do; the process counts its own time and is stricter."""
_AT_ONCE = threading.BoundedSemaphore(2)


@dataclass(frozen=True, slots=True)
class Expanded:
    """Busy periods, rising and apart, that hold until `until`.

    Beside them: how many zones in the file nobody knew, and a phrase for each kind of fault that was forgiven.
    """

    periods: tuple[Period, ...]
    until: datetime
    unknown_zones: int
    notes: tuple[str, ...] = ()


def expand(
    data: bytes,
    time_zone: str,
    now: datetime,
    ours: Sequence[str] = (),
    *,
    patience: float = PATIENCE,
) -> Expanded:
    """The busy time of an iCalendar file from a day before `now` to a year after, on whole 5 minutes.

    Entries whose UID is one of `ours` are left out.
    Refused: "calendar-unreadable", "calendar-too-much"; "busy" where this process expands two others
    already, and goes on with them for `patience` seconds.
    """
    if len(data) > MOST_BYTES:
        raise too_much(f"it is longer than {MOST_BYTES // 1_000_000} MB.")
    since, until = now - BEFORE, now + AHEAD
    asked = json.dumps(
        {
            "time_zone": time_zone,
            "since": since.isoformat(),
            "until": until.isoformat(),
            "ours": list(ours),
        }
    )
    answer = json.loads(_run(asked.encode() + b"\n" + data, patience) or "{}")
    if "code" in answer:
        raise Refused(answer["code"], answer["detail"])
    if "cells" not in answer:
        raise too_much("working it out took too long or too much memory.")
    periods = tuple(
        Period(EPOCH + first * CELL, EPOCH + past * CELL) for first, past in answer["cells"]
    )
    return Expanded(periods, until, answer["unknown_zones"], tuple(answer["notes"]))


def _run(sent: bytes, patience: float) -> bytes:
    """What the process answered; nothing where one of its limits ended it."""
    if not _AT_ONCE.acquire(timeout=patience):
        raise Refused(
            "busy",
            "Other calendars are being read at this moment. Try again in a few seconds.",
            retry_after=5,
        )
    try:
        # No shell and nothing of the request in the command; an empty environment, so that no secret is in that process.
        command = [sys.executable, "-s", "-X", "utf8", "-m", "bookings.calendars.busy_child"]
        done = subprocess.run(  # noqa: S603
            command,
            input=sent,
            capture_output=True,
            cwd=ROOT,
            env={},
            timeout=PATIENCE,
            check=False,
        )
        return done.stdout if done.returncode == 0 else b""
    except subprocess.TimeoutExpired:
        return b""
    finally:
        _AT_ONCE.release()
