"""The school of the restore drill, one process for each of its parts: `load`, `write LEDGER`, `look
SECRET NOW`.
"""

import json
import os
import signal
import sys
from collections.abc import Iterator
from contextlib import suppress
from datetime import datetime, timedelta
from hashlib import sha256
from typing import Any

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
django.setup()

from django.core.management import call_command  # noqa: E402
from django.db import connection  # noqa: E402
from django.db.migrations.executor import MigrationExecutor  # noqa: E402

from accounts.models import Instructor, Student, User  # noqa: E402
from bookings import clock, door  # noqa: E402
from bookings.demo import school  # noqa: E402
from bookings.domain.errors import Refused  # noqa: E402
from bookings.models import Booking, Offering, guards  # noqa: E402
from bookings.operations.booking import book_slot, cancel_slot  # noqa: E402
from bookings.operations.subscriptions import open_feed  # noqa: E402
from bookings.queries.calendars import feed_bytes, open_feed_of  # noqa: E402
from bookings.queries.places_audit import findings  # noqa: E402
from bookings.queries.slots import slots_for  # noqa: E402
from tests import cast  # noqa: E402

WRITER = "writer@rowanmere.example"


def feed(secret: str, now: datetime) -> str:
    found = open_feed_of(secret)
    return sha256(feed_bytes(found, now=now)).hexdigest() if found else "none"


def load() -> dict[str, str]:
    """The demo school, a feed of an instructor whose lessons nobody changes, and a pair who will
    book and cancel.
    """
    call_command("migrate", verbosity=0)
    now = clock.now()
    school.load(now=now)
    reader = Instructor.objects.order_by("pk")[0].user
    secret = door.write(lambda: open_feed(actor=reader, label="Phone", now=now)[1], now=now)
    lesson = cast.make_offering("Drill lesson")
    teacher = cast.make_instructor("Sorrel Fenwick", "UTC")
    cast.teaches(teacher, lesson)
    cast.publish(teacher, ", ".join(f"{weekday} 00:00-24:00" for weekday in range(7)))
    cast.make_student("Juniper Askew", "UTC", email=WRITER)
    return {"secret": secret, "now": now.isoformat(), "feed": feed(secret, now)}


def write(ledger: str) -> None:
    """Books one free lesson after the other and cancels the one before, for as long as it may; each
    is written down once it is committed.
    """
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    last: Booking | None = None
    with open(ledger, "a", buffering=1) as written:
        for asked in lessons_ahead():
            if last is not None:
                cancel(last, asked["actor"], asked["now"])
            with suppress(Refused):
                last = book(asked)
                written.write(f"{last.pk}\n")


def lessons_ahead() -> Iterator[dict[str, Any]]:
    """Each free start of the drill's lesson, day by day, as the writer asks for it."""
    student = Student.objects.get(user__email=WRITER)
    offering = Offering.objects.get(name="Drill lesson")
    teacher = Instructor.objects.get(teaches__offering=offering)
    wanted = {"student": student, "offering": offering}
    for day in range(2, 60):
        now = clock.now()
        since = now + timedelta(days=day)
        found = slots_for(**wanted, since=since, until=since + timedelta(days=1), now=now)
        asked = {**wanted, "actor": student.user, "instructor": teacher, "now": now}
        for slot in found.slots:
            yield {**asked, "starts_at": slot.starts_at}


def book(asked: dict[str, Any]) -> Booking:
    return door.write(lambda: book_slot(**asked), now=asked["now"])


def cancel(booking: Booking, actor: User, now: datetime) -> None:
    door.write(lambda: cancel_slot(actor=actor, booking=booking, now=now), now=now)


def look(secret: str, now: str) -> dict[str, Any]:
    """What whoever restores a school looks at before it serves again."""
    executor = MigrationExecutor(connection)
    return {
        "unapplied": [
            str(step) for step in executor.migration_plan(executor.loader.graph.leaf_nodes())
        ],
        "missing": guards.missing(connection),
        "findings": [one.line() for one in findings()],
        "feed": feed(secret, datetime.fromisoformat(now)),
        "booked": list(
            Booking.objects.filter(student__user__email=WRITER).values_list("pk", flat=True)
        ),
    }


if __name__ == "__main__":
    told = {"load": load, "write": write, "look": look}[sys.argv[1]](*sys.argv[2:])
    print(json.dumps(told))
