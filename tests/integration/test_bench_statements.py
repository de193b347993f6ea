"""The statements that a booking is measured against still fit the tables: a changed column shows here first."""

import re

import pytest
from django.db import connection

from bookings.models import AuditRow, Booking, OutboxMessage
from tests.bench import pgbench, stored
from tests.bench.booking import wishes


@pytest.mark.postgres
@pytest.mark.django_db
def test_the_kept_statements_store_a_booking(monkeypatch: pytest.MonkeyPatch) -> None:
    """A meeting, its booking, an audit row and four messages, as one booking of the product stores them."""
    monkeypatch.setattr(stored, "INSTRUCTORS", 2)
    monkeypatch.setattr(stored, "STUDENTS", 5)
    stored.found_school()
    wish = next(wishes(1))
    returned: dict[str, int] = {}
    with connection.cursor() as cursor:
        for statement, prefix in statements_of(pgbench.kept(wish)):
            cursor.execute(re.sub(r":(\w+_id)\b", lambda name: str(returned[name[1]]), statement))
            if prefix:
                returned[f"{prefix}id"] = cursor.fetchone()[0]
    booking = Booking.objects.get()
    assert (booking.student, booking.meeting.instructor) == (wish.student, wish.instructor)
    assert AuditRow.objects.filter(thing_id=booking.pk).count() == 1
    assert OutboxMessage.objects.filter(meeting=booking.meeting).count() == 4


def statements_of(script: str) -> list[tuple[str, str]]:
    """Each statement between BEGIN and COMMIT, and what pgbench calls the columns it returns."""
    body = script.removeprefix("BEGIN;\n").removesuffix("COMMIT;\n").strip()
    found = re.split(r"(;| \\gset (?:\w+))\n(?:\n|$)", body + "\n")
    ends = [end.removeprefix(" \\gset ").strip(";") for end in found[1::2]]
    return list(zip(found[::2], ends, strict=False))
