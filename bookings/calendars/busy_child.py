"""The process in which a foreign calendar is expanded: `python -m bookings.calendars.busy_child`.

On stdin: one line of JSON (time_zone, since, until, ours), then the bytes of the file. On stdout:
JSON with `cells`, `unknown_zones` and `notes`, or with the `code` and `detail` of a refusal. The
process limits itself before it reads anything; reaching a limit ends it by a signal.
"""

import json
import resource
import signal
import sys
from dataclasses import asdict
from datetime import datetime

WORK_SECONDS = 0.9
"""Processor time for one file. With the start of Python and the libraries, the whole stays below
the two seconds of RLIMIT_CPU.
"""
MEMORY = 512 * 1024 * 1024
"""Bytes of address space."""


def limit() -> None:
    """Limits processor time and memory of this process, and lets it write no file and no core
    dump.
    """
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (2, 2))
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def main() -> None:
    """Reads stdin, expands the calendar, writes stdout."""
    limit()
    # Imported only now, so that the limits hold for these modules too.
    from bookings.calendars.busy import busy
    from bookings.domain.errors import Refused

    signal.signal(signal.SIGPROF, signal.SIG_DFL)
    signal.setitimer(signal.ITIMER_PROF, WORK_SECONDS)
    try:
        asked = json.loads(sys.stdin.buffer.readline())
        since, until = (datetime.fromisoformat(asked[name]) for name in ("since", "until"))
        found = busy(
            sys.stdin.buffer.read(), asked["time_zone"], since, until, frozenset(asked["ours"])
        )
        answer: dict[str, object] = asdict(found)
    except Refused as refusal:
        answer = {"code": refusal.code, "detail": refusal.detail}
    sys.stdout.write(json.dumps(answer))


if __name__ == "__main__":
    main()
