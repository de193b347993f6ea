"""Reads a calendar's mailed answer in a process of its own, so that no mail can take this one's
time or memory.
"""

import json
import subprocess
import sys
from pathlib import Path

from bookings.calendars.replies import MOST_BYTES, CalendarReply, Ignored, Reason
from bookings.domain.errors import Refused

ROOT = Path(__file__).resolve().parent.parent.parent
PATIENCE = 20.0
"""Seconds by the wall clock, for a machine with much else to do; the process counts its own time
and is stricter.
"""


def read(mail: bytes, *, to: str, sender: str | None, authserv_id: str) -> CalendarReply:
    """As `calendars.replies.read_reply`, within two seconds of processor time and half a gigabyte.

    Raises Ignored, also where a limit was reached; Refused("busy") where this machine has no time
    for it now.
    """
    if len(mail) > MOST_BYTES:
        raise Ignored(Reason.TOO_LARGE)
    envelope = json.dumps({"to": to, "sender": sender, "authserv_id": authserv_id})
    told = json.loads(_run(envelope.encode() + b"\n" + mail))
    if "reason" in told:
        raise Ignored(Reason(told["reason"]))
    return CalendarReply.from_text(told["answer"])


def _run(sent: bytes) -> bytes:
    # No shell and nothing of the mail in the command; an empty environment, so that no secret is in
    # that process.
    command = [sys.executable, "-s", "-X", "utf8", "-m", "bookings.calendars.replies_child"]
    try:
        done = subprocess.run(  # noqa: S603
            command,
            input=sent,
            capture_output=True,
            cwd=ROOT,
            env={},
            timeout=PATIENCE,
            check=False,
        )
    except subprocess.TimeoutExpired:
        raise Refused("busy", "Send it again in a moment.", retry_after=5) from None
    if done.returncode < 0:  # a limit ended it, by a signal
        raise Ignored(Reason.TOO_MUCH)
    done.check_returncode()
    return done.stdout
