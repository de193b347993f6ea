"""The edges of locking: a row that changes while one waits for it."""

import threading

import pytest
from django.db import connection, transaction

from bookings.models import Meeting
from bookings.operations.locks import lock_meetings
from tests import cast
from tests.cast import at

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres]


def test_a_meeting_that_changes_its_instructor_while_one_waits_for_it_is_still_found():
    """PostgreSQL checks a locked row again after the wait, against the joined rows of before: a
    join would lose it.
    """
    meeting = cast.make_meeting(
        cast.make_offering(), cast.make_instructor(), at("2027-03-12T17:00Z")
    )
    wren = cast.make_instructor("Wren Halloway", "America/New_York")
    found: list[Meeting] = []

    def wait() -> None:
        try:
            with transaction.atomic():
                found.extend(lock_meetings([meeting.pk]).values())
        finally:
            connection.close()

    waiter = threading.Thread(target=wait)
    with transaction.atomic():
        Meeting.objects.filter(pk=meeting.pk).update(instructor=wren)
        waiter.start()
        waiter.join(1.0)
    waiter.join(10.0)
    assert [row.instructor for row in found] == [wren]
