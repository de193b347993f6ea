"""The generator of stored rows that races and measurements run on: its rows are rows that the
product itself could have written.
"""

import pytest
from django.core.management import call_command
from django.db import connection

from bookings.models import Booking, Meeting, guards
from tests.bench import stored


@pytest.mark.django_db(transaction=True)
def test_stored_meetings_are_rows_like_any_other(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every column is filled, the guards stand again, the counters agree and a place can be read
    back.
    """
    monkeypatch.setattr(stored, "INSTRUCTORS", 2)
    monkeypatch.setattr(stored, "STUDENTS", 5)
    stored.found_school()
    stored.add_meetings(12, first_day=1, per_day=3)
    assert (Meeting.objects.count(), Booking.objects.count()) == (12, 12)
    assert guards.missing(connection) == []
    call_command("audit_places")
    for meeting in Meeting.objects.all():
        meeting.full_clean(exclude=["weekly_place"])
