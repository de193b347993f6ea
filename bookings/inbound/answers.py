"""Reads a calendar's answer, or a report of a mail server, in a child process, which has limits of
time and memory.
"""

import json
import subprocess
import sys
from pathlib import Path

from bookings.calendars.ignoring import MOST_BYTES, Ignored, WhyIgnored
from bookings.calendars.replies import CalendarReply
from bookings.calendars.reports import MailReport
from bookings.domain.errors import Refused

ROOT = Path(__file__).resolve().parent.parent.parent
PATIENCE = 20.0
"""Seconds of wall time, on a busy machine. The child's own limit of processor time is stricter."""


def read(
    mail: bytes, *, to: str, sender: str | None, authserv_id: str
) -> CalendarReply | MailReport:
    """`read_report`, and `read_reply` for any other mail, within two seconds of processor time and
    half a gigabyte.

    Raises Ignored, also where a limit is reached, and Refused("busy") after PATIENCE.
    """
    if len(mail) > MOST_BYTES:
        raise Ignored(WhyIgnored.TOO_LARGE)
    envelope = json.dumps({"to": to, "sender": sender, "authserv_id": authserv_id})
    told = json.loads(_run(envelope.encode() + b"\n" + mail))
    if "reason" in told:
        raise Ignored(WhyIgnored(told["reason"]))
    if "report" in told:
        return MailReport.from_text(told["report"])
    return CalendarReply.from_text(told["answer"])


def _run(sent: bytes) -> bytes:
    # No shell, no part of the email in the command, and no secret in the child's environment.
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
        raise Ignored(WhyIgnored.TOO_MUCH)
    done.check_returncode()
    return done.stdout
