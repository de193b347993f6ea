"""The clock, the worker and the mailboxes of a school that lives through days on its pages."""

import re
from datetime import datetime, timedelta
from email import message_from_bytes, policy
from email.message import EmailMessage
from typing import Any

import time_machine
from django.core import mail

from bookings import tasks
from tests.cast import at
from tests.functional.pages.conftest import Hands

ROUND = timedelta(hours=1)
"""How often the worker looks; the real one looks every minute, and finds its work in the tables."""
EMAIL = "{}@rowanmere.example"
BASE = "http://localhost:8000"


class Days:
    """Both clocks stand still, the interfaces' and the machine's, until a test moves them; on the
    way the worker does its rounds.
    """

    def __init__(self, hands: Hands, machine: time_machine.Traveller) -> None:
        self._hands, self._machine = hands, machine

    def until(self, instant: str) -> None:
        """An hour at a time; `instant` as "2027-03-03T16:00Z"."""
        goal = at(instant)
        assert goal >= self._hands.at, f"{goal} is over"
        while self._hands.at < goal:
            self._set(min(self._hands.at + ROUND, goal))
            work()

    @property
    def now(self) -> datetime:
        return self._hands.at

    def _set(self, now: datetime) -> None:
        self._hands.at = now
        self._machine.move_to(now)


def work() -> None:
    """What worker and beat do beside the requests, each of them once."""
    tasks.enqueue_due()
    tasks.refresh_busy_calendars()
    tasks.solve_plans()
    tasks.deliver_events()
    tasks.drain_outbox()
    tasks.let_go()


def mails_to(address: str, subject: str = "") -> list[EmailMessage]:
    """What has reached a mailbox, oldest first; of those, the ones with that in their subject."""
    sent: list[Any] = mail.outbox
    found = [_parsed(one.message().as_bytes()) for one in sent if one.to == [address]]
    return [one for one in found if subject in one["Subject"]]


def _parsed(message: bytes) -> EmailMessage:
    return message_from_bytes(message, policy=policy.SMTP)


def mail_to(address: str, subject: str) -> str:
    """The text of the latest such email."""
    found = mails_to(address, subject)
    assert found, f"{address} has {[one['Subject'] for one in mails_to(address)]}"
    plain = found[-1].get_body(("plain",))
    assert plain is not None
    return str(plain.get_content()).replace("\r\n", "\n")


def link_in(text: str, words: str) -> str:
    """The address behind these words of an email, the school's name left out."""
    found = re.search(rf"^{words}: {BASE}(/\S+)$", text, re.MULTILINE)
    assert found, f"no “{words}” in {text}"
    return found[1]
