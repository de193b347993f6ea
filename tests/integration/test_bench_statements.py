"""The statements that a booking is measured against are those that a booking sends, and fit the
tables: a changed column shows here first.
"""

import re

import pytest
from django.db import connection

from bookings.models import AuditRow, Booking, OutboxMessage
from tests.bench import pgbench, stored
from tests.bench.api import statements
from tests.bench.booking import ABOUT_TRANSACTIONS, wishes

pytestmark = [pytest.mark.postgres, pytest.mark.django_db]


@pytest.fixture(autouse=True)
def small_school(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(stored, "INSTRUCTORS", 2)
    monkeypatch.setattr(stored, "STUDENTS", 5)
    stored.found_school()


def test_the_kept_statements_are_those_that_a_booking_sends() -> None:
    """In the same order, each with the same tables and columns, whatever its values are."""
    wish = next(wishes(1))
    kept = [names_in(sql) for sql, _ in statements_of(pgbench.kept(wish))]
    with statements() as sent:
        wish.book()
    assert [names_in(sql) for sql, _ in sent if not sql.startswith(ABOUT_TRANSACTIONS)] == kept


def test_the_kept_statements_store_a_booking() -> None:
    """A meeting, its booking, an audit row and four messages, as one booking of the product stores
    them.
    """
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


def names_in(sql: str) -> list[str]:
    """The tables, columns and other names of a statement, in order, without its texts."""
    return re.findall(r'"(\w+)"', re.sub(r"'[^']*'", "", sql))


def statements_of(script: str) -> list[tuple[str, str]]:
    """Each statement between BEGIN and COMMIT, and what pgbench calls the columns it returns."""
    body = script.removeprefix("BEGIN;\n").removesuffix("COMMIT;\n").strip()
    found = re.split(r"(;| \\gset (?:\w+))\n(?:\n|$)", body + "\n")
    ends = [end.removeprefix(" \\gset ").strip(";") for end in found[1::2]]
    return list(zip(found[::2], ends, strict=False))
