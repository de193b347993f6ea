"""Reads a calendar's answer, or a report of a mail server, in a child process, which has limits of
time and memory.
"""

import json
import subprocess

from bookings.calendars.ignoring import MOST_BYTES, Ignored, WhyIgnored
from bookings.calendars.replies import CalendarReply
from bookings.calendars.reports import MailReport
from bookings.domain.errors import Refused
from bookings.inbound.children import run_child


def read(
    mail: bytes, *, to: str, sender: str | None, authserv_id: str
) -> CalendarReply | MailReport:
    """`read_report`, and `read_reply` for any other mail, within two seconds of processor time and
    half a gigabyte.

    Raises Ignored, also where a limit is reached, and Refused("busy") after `children.PATIENCE`.
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
    try:
        done = run_child("bookings.calendars.replies_child", sent)
    except subprocess.TimeoutExpired:
        raise Refused("busy", "Send it again in a moment.", retry_after=5) from None
    if done.returncode < 0:  # a limit ended it, by a signal
        raise Ignored(WhyIgnored.TOO_MUCH)
    done.check_returncode()
    return done.stdout
