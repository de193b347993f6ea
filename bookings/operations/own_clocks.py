"""Tells readers whose own zone has new rules that their meetings have another hour there."""

from collections.abc import Mapping
from datetime import datetime

from accounts.models import User
from bookings import notices, outbox
from bookings.access import own_students
from bookings.domain.zone_rules import ZoneRules
from bookings.operations.locks import lock_students
from bookings.operations.reminders import told_ahead
from bookings.queries.own_clocks import own_clocks


def tell_own_clock(
    *, reader_id: int, rules: Mapping[str, ZoneRules], now: datetime
) -> notices.OwnClock | None:
    """Tells a reader once that the rules of their own zone have changed while their meetings stay.

    Returns what they were told; None where there is nothing to tell. `rules` are the kept rules of
    the versions by which meetings ahead were told. Reminders written ahead are written anew. A
    process that still has the old rules may book afterwards without telling anybody, so those
    processes must end first.
    """
    students = lock_students(row.pk for row in own_students(User(pk=reader_id), now=now))
    reader = User.objects.select_for_update(no_key=True).get(pk=reader_id)
    found = own_clocks(now, rules=rules, reader_id=reader_id)
    if not found:
        return None
    outbox.take_back_ahead(reader.pk, now=now)
    ahead = notices.clock_changed(reader, told_ahead(students, now), told_on=reader.zone, now=now)
    outbox.enqueue([*notices.own_clock_changed(found[0], now=now), *ahead], now=now)
    return found[0]
