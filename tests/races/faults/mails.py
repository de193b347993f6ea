"""A few hundred changes of meetings while the mail server fails in every way, on a clock that is
moved by hand.

Operations through the write door, the product's own drain, its SMTP transport, and a process that
dies between send and mark. Needs Django and an empty, migrated database.
"""

import random
from collections import Counter
from collections.abc import Sequence
from datetime import timedelta
from typing import Any

from django.db import connection
from django.test import override_settings

from bookings.models import EmailTrouble, Meeting, OutboxMessage
from bookings.operations.email_troubles import lift
from bookings.operations.resending import send_again
from tests.races.faults import judge
from tests.races.faults.ledgers import Fault, Mail, wrong_mails
from tests.races.faults.mail_desk import Desk, Transport
from tests.races.faults.sink import Sink

PATIENCE = 0.4  # seconds that the sender waits for the server

A_DAY_LATER = timedelta(hours=26)  # every message is sent or given up by then

TITLE = "the mail server fails in every way"


def play(seed: int, faults: int) -> dict[str, Any]:
    """Goes on until so many faults have been met, then a day later compares the ledgers."""
    sink, desk = Sink(seed, odds=0.35, seconds=2 * PATIENCE), Desk(seed)
    Transport.odds, Transport.chance, Transport.faults = (
        0.04,
        random.Random(f"deaths:{seed}"),
        Counter(),
    )
    assert desk.unreachable.user is not None
    sink.turned_away.add(desk.unreachable.user.email)
    transport = f"{Transport.__module__}.{Transport.__qualname__}"
    with override_settings(
        EMAIL_BACKEND=transport,
        EMAIL_HOST="127.0.0.1",
        EMAIL_PORT=sink.port,
        EMAIL_TIMEOUT=PATIENCE,
    ):
        try:
            sink.open()
            met = _until_met(faults, sink, desk)
            found = _a_day_later(sink, desk)
        finally:
            sink.close()
    mails = sink.mails()
    found += wrong_mails(mails, judge.intended(desk.now), judge.finals()) + _rolled_back(mails)
    return {
        "race": "M1",
        "database": connection.vendor,
        "title": TITLE,
        "seed": seed,
        "mail_faults": met,
        "faults": dict(sorted((sink.faults + Transport.faults).items())),
        "mails": len({mail.message_id for mail in mails}),
        "arrivals": len(mails),
        "violations": [{"kind": fault.kind, "text": fault.text} for fault in found],
    }


def _until_met(faults: int, sink: Sink, desk: Desk) -> int:
    """Changes meetings and drains the outbox until so many faults have been met; how many were.

    The server is down for one to three steps in every six.
    """
    desk.book(desk.unreachable)
    down_for, step = 0, 0
    while (met := (sink.faults + Transport.faults).total()) < faults:
        for _ in range(desk.random.randrange(1, 4)):
            desk.act()
        step += 1
        if step % 6 == 3:
            down_for = desk.random.randrange(1, 4)
            sink.close()
        desk.drain()
        down_for = max(0, down_for - 1)
        if down_for == 0:
            sink.open()
        desk.now += timedelta(seconds=desk.random.choice([1, 20, 70, 130, 600, 1500]))
    return met


def _rolled_back(mails: Sequence[Mail]) -> list[Fault]:
    """Mails of meetings that are in no table."""
    uids = {str(uid) for uid in Meeting.objects.values_list("uid", flat=True)}
    return [
        Fault("mail-disordered", f"{mail.message_id} is of a meeting that was rolled back")
        for mail in mails
        if mail.uid and mail.uid not in uids
    ]


def _a_day_later(sink: Sink, desk: Desk) -> list[Fault]:
    """The server is well again but for one address; what is due leaves.

    What was refused for good (5xx) was given up at once, and is sent again by hand. That address's
    invitation was held, and leaves when an admin lifts the mark.
    """
    sink.odds, Transport.odds = 0.0, 0.0
    sink.open()
    end = desk.now + A_DAY_LATER
    while desk.now < end:
        desk.drain()
        waits = OutboxMessage.objects.sendable().filter(due_at__lte=end).order_by("due_at").first()
        if waits is None:
            break
        desk.now = max(desk.now + timedelta(minutes=3), waits.due_at)
    given_up = list(OutboxMessage.objects.filter(state=OutboxMessage.State.GIVEN_UP).order_by("pk"))
    expected = OutboxMessage.objects.filter(recipient=desk.unreachable.user, method="REQUEST").get()
    faults = judge.wrongly_given_up(given_up, OutboxMessage.objects.held(), expected)
    sink.turned_away.clear()
    for trouble in EmailTrouble.objects.marked():
        desk.write(lambda found=trouble: lift(actor=desk.admin, trouble_id=found.pk, now=desk.now))
    for message in given_up:
        desk.write(
            lambda message=message: send_again(actor=desk.admin, message=message, now=desk.now)
        )
    for _ in range(3):
        desk.drain()
        desk.now += timedelta(minutes=3)
    return faults
