"""The mail server of the simulation: in memory, with faults on order, and the ledger of what
arrived.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from email import message_from_bytes
from smtplib import SMTPServerDisconnected
from typing import Any

from django.core.mail.backends.base import BaseEmailBackend
from django.db.models import Max

from bookings.models import OutboxMessage

FAULTS = ("refused", "dropped", "killed before", "killed after", "slow")


class Killed(BaseException):
    """The worker dies where it stands: nothing in the product catches it."""


@dataclass(frozen=True, slots=True)
class Arrival:
    """One mail as it arrived, when `newest` was the last row of the outbox; the last four are empty
    without a calendar part.

    `starts` is DTSTART's wall time.
    """

    newest: int
    to: str
    message_id: str
    uid: str = ""
    sequence: int = -1
    method: str = ""
    starts: str = ""


class Post:
    """Takes mail. `fault` is asked before each: "" or one of FAULTS; `meanwhile` runs while a slow
    server keeps a worker waiting.
    """

    def __init__(self) -> None:
        self.arrived: list[Arrival] = []
        self.fault: Callable[[], str] = str
        self.meanwhile: Callable[[], object] = str
        _Sink.post = self

    def take(self, mail: bytes) -> None:
        """A mail arrives, or not; what came before a fault has arrived all the same."""
        fault = self.fault()
        if fault == "killed before":
            raise Killed
        if fault == "refused":
            raise SMTPServerDisconnected("450 try again later")
        self.arrived.append(_read(mail))
        if fault == "slow":
            self.meanwhile()
        if fault == "killed after":
            raise Killed
        if fault == "dropped":
            raise SMTPServerDisconnected("the line went dead after the final dot")


class _Sink(BaseEmailBackend):
    post: Post

    def send_messages(self, messages: Sequence[Any]) -> int:
        for message in messages:
            self.post.take(message.message().as_bytes())
        return len(messages)


BACKEND = f"{__name__}.{_Sink.__name__}"


def _read(mail: bytes) -> Arrival:
    newest = OutboxMessage.objects.aggregate(newest=Max("pk"))["newest"]
    parsed = message_from_bytes(mail)
    to, message_id = parsed["To"].rpartition("<")[2].rstrip(">"), parsed["Message-ID"].strip()
    for part in parsed.walk():
        if part.get_content_type() == "text/calendar":
            event = (
                part.get_payload(decode=True)
                .decode()
                .replace("\r\n ", "")
                .partition("BEGIN:VEVENT")[2]
            )
            lines = (line.partition(":") for line in event.split("\r\n"))
            found = {key.partition(";")[0]: value for key, _, value in lines}
            return Arrival(
                newest,
                to,
                message_id,
                found["UID"],
                int(found["SEQUENCE"]),
                str(part.get_param("method")),
                found["DTSTART"],
            )
    return Arrival(newest, to, message_id)
