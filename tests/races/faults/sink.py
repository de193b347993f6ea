"""A mail server that keeps what it is given and fails as its script says: refuses, dawdles, or
hangs up after the final dot.
"""

import asyncio
import logging
import random
import re
import socket
from collections import Counter
from email import message_from_bytes, policy
from typing import Any

from aiosmtpd.controller import Controller

from tests.races.faults.ledgers import Mail

RCPT_FAULTS = {"4xx at RCPT": "451 4.3.0 Not now", "5xx at RCPT": "550 5.7.1 Not from there"}
DATA_FAULTS = {"4xx at DATA": "451 4.3.0 Not now", "5xx at DATA": "554 5.7.1 Not this"}
HUNG_UP, SLOW, SLOW_BUT_KEPT = "hung up after the final dot", "slow", "slow, and kept"

logging.getLogger("mail.log").setLevel(
    logging.CRITICAL
)  # the server's own chatter about connections that broke as they should


class Sink:
    """An SMTP server on a port of its own.

    With `odds` 0 it takes everything; `turned_away` are addresses it never takes.

    `seconds` is how long a slow answer takes: longer than the sender's patience.
    """

    def __init__(self, seed: object = 0, *, odds: float = 0.0, seconds: float = 0.0) -> None:
        self.odds, self._seconds = odds, seconds
        self._random = random.Random(f"sink:{seed}")
        self.turned_away: set[str] = set()
        self.faults: Counter[str] = Counter()
        self._kept: list[tuple[str, bytes]] = []
        with socket.create_server(("127.0.0.1", 0)) as free:
            self.port: int = free.getsockname()[1]
        self._controller: Controller | None = None

    def open(self) -> None:
        if self._controller is None:
            self._controller = Controller(self, hostname="127.0.0.1", port=self.port)
            self._controller.start()

    def close(self) -> None:
        """Nobody listens on the port any more."""
        if self._controller is not None:
            self._controller.stop()
            self._controller = None

    def mails(self) -> list[Mail]:
        """What arrived, in order; one that came again is there again."""
        return [read(recipient, content) for recipient, content in self._kept]

    async def handle_RCPT(
        self, server: Any, session: Any, envelope: Any, address: str, options: list[str]
    ) -> str:
        if address in self.turned_away:
            return "550 5.1.1 Nobody here"
        fault = self._draw([*RCPT_FAULTS], self.odds / 3)
        if fault is not None:
            return RCPT_FAULTS[fault]
        envelope.rcpt_tos.append(address)
        return "250 Yes"

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:
        fault = self._draw([*DATA_FAULTS, HUNG_UP, HUNG_UP, SLOW, SLOW_BUT_KEPT], self.odds)
        if fault in DATA_FAULTS:
            return DATA_FAULTS[fault]
        if fault == SLOW:
            await asyncio.sleep(self._seconds)
            return "451 4.3.0 Too late"
        self._kept += [(recipient, bytes(envelope.content)) for recipient in envelope.rcpt_tos]
        if fault == SLOW_BUT_KEPT:
            await asyncio.sleep(self._seconds)
        if fault == HUNG_UP:
            server.transport.abort()
        return "250 Kept"

    def _draw(self, faults: list[str], odds: float) -> str | None:
        if self._random.random() >= odds:
            return None
        fault = self._random.choice(faults)
        self.faults[fault] += 1
        return fault


def read(recipient: str, content: bytes) -> Mail:
    """A mail's keys, words and calendar; the boundaries between its parts are made anew each time
    and left out.
    """
    mail = message_from_bytes(content, policy=policy.SMTP)
    message_id, text = (
        str(mail["Message-ID"]),
        f"{mail['Date']}\n{mail['Subject']}\n{mail.get_body(('plain',)).get_content()}",
    )
    calendar = next(
        (part.get_content() for part in mail.walk() if part.get_content_type() == "text/calendar"),
        None,
    )
    if calendar is None:
        return Mail(message_id, recipient, text)
    lines = (
        str(calendar).replace("\r\n", "\n").replace("\n ", "").splitlines()
    )  # RFC 5545 section 3.1: unfolded
    event = lines[lines.index("BEGIN:VEVENT") :]
    return Mail(
        message_id,
        recipient,
        text,
        uid=_value(event, "UID"),
        sequence=int(_value(event, "SEQUENCE")),
        stamp=_value(event, "DTSTAMP"),
        method=_value(lines, "METHOD"),
        start=_value(event, "DTSTART"),
    )


def _value(lines: list[str], name: str) -> str:
    """The first property of that name, without its parameters."""
    return next(line.partition(":")[2] for line in lines if re.match(rf"{name}[;:]", line))
