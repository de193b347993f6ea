"""Expands a foreign calendar in a child process, which has limits of time and memory."""

import json
import subprocess
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from bookings.calendars.content_grammar import too_much
from bookings.domain.errors import Refused
from bookings.domain.timeline import CELL, EPOCH, Period
from bookings.inbound.children import PATIENCE, run_child

BEFORE, AHEAD = timedelta(days=1), timedelta(days=366)
"""The window: from a day ago to a year ahead. Only the end of a long term lies further ahead."""
MOST_BYTES = 2_000_000
_AT_ONCE = threading.BoundedSemaphore(2)


@dataclass(frozen=True, slots=True)
class Expanded:
    """Busy periods by start, which never touch, up to `until`.

    `unknown_zones` counts the zones in the file that nobody knows. `notes` has a phrase for each
    kind of fault that was forgiven.
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
    """The busy time in an iCalendar file from a day before `now` to a year after.

    Periods are on whole 5 minutes. Entries whose UID is one of `ours` are left out. Refused:
    "calendar-unreadable", "calendar-too-much"; "busy" where this process still expands two others
    after `patience` seconds.
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
    """The output of the child process; empty where a limit ended it. Refused("busy")."""
    if not _AT_ONCE.acquire(timeout=patience):
        raise Refused(
            "busy",
            "Other calendars are being read at this moment. Try again in a few seconds.",
            retry_after=5,
        )
    try:
        done = run_child("bookings.calendars.busy_child", sent)
        return done.stdout if done.returncode == 0 else b""
    except subprocess.TimeoutExpired:
        return b""
    finally:
        _AT_ONCE.release()
