"""A webhook, a program that receives, and a clock that a test moves."""

from collections.abc import Callable, Mapping
from datetime import timedelta

import pytest

from bookings import clock, delivering, door
from bookings.domain.events import Event
from bookings.domain.standard_webhooks import signature
from bookings.inbound.posting import Answered
from bookings.models import OutboxMessage, Webhook
from bookings.operations.webhooks import make_webhook
from tests import cast
from tests.cast import NOW

ADDRESS = "https://books.rowanmere.example/told"


class Receiver:
    """A program that answers as it is told, and keeps what it was sent."""

    def __init__(self) -> None:
        self.says: Callable[[], Answered] = lambda: Answered(204, "", 12)
        self.got: list[tuple[str, Mapping[str, str], bytes]] = []

    def __call__(self, address: str, fields: Mapping[str, str], body: bytes) -> Answered:
        self.got.append((address, fields, body))
        return self.says()

    def fails(self, status: int | None = 500, problem: str = "status", **more: object) -> None:
        self.says = lambda: Answered(status, problem, 12, **more)  # type: ignore[arg-type]


class Story:
    """One webhook, its receiver, and a clock that the test moves."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.now = NOW
        monkeypatch.setattr(clock, "now", lambda: self.now)
        self.admin, self.receiver = cast.make_admin(), Receiver()
        self.hook, self.secret = self.made("Accounting")

    def made(self, name: str) -> tuple[Webhook, str]:
        made = {"name": name, "address": ADDRESS, "kinds": [Event.BOOKING_MADE]}
        return door.write(
            lambda: make_webhook(actor=self.admin, **made, now=self.now), now=self.now
        )

    def round(self, after: timedelta = timedelta()) -> int:
        self.now += after
        return delivering.deliver_due(posting=self.receiver, at_once=1)

    def act(self, operation: Callable, **more: object) -> object:
        sent = {"actor": self.admin, "webhook": self.hook, "now": self.now, **more}
        return door.write(lambda: operation(**sent), now=self.now)

    def fresh(self) -> Webhook:
        self.hook.refresh_from_db()
        return self.hook

    def row(self) -> OutboxMessage:
        return OutboxMessage.objects.deliveries().latest("pk")


def signed(story: Story, secret: str, number: int = -1) -> bool:
    """Whether a delivery, the last one unless told otherwise, is signed with this secret."""
    _, fields, body = story.receiver.got[number]
    made = signature(secret, fields["webhook-id"], int(fields["webhook-timestamp"]), body)
    return made in fields["webhook-signature"].split(" ")
