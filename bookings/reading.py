"""Reading what hurts: shown to whoever may read it, and recorded.

A lesson may be about to begin, so the text is shown also where the database takes no write. The
record then is a line of the log, with ids only.
"""

from datetime import datetime
from functools import partial

import structlog
from django.db import DatabaseError

from accounts.models import User
from bookings import door
from bookings.access import hurts_for, reads_hurts_as
from bookings.domain.data_readings import DataRead
from bookings.domain.errors import Refused
from bookings.models import Booking
from bookings.operations.data_readings import record_reading

log = structlog.get_logger(__name__)


def read_hurts(reader: User, booking: Booking, *, now: datetime) -> str:
    """What the student says hurts, as `access.hurts_for`; a reading by the school is recorded."""
    text = hurts_for(reader, booking, now=now)
    relation = reads_hurts_as(reader, booking)
    if text and relation != "family":
        _record(reader, booking, relation, now)
    return text


def _record(reader: User, booking: Booking, relation: str, now: datetime) -> None:
    act = partial(
        record_reading,
        reader=reader,
        student=booking.student,
        what=DataRead.HEALTH,
        relation=relation,
        booking=booking,
        now=now,
    )
    try:
        door.write(act, now=now)
    except (DatabaseError, Refused) as error:
        log.error(
            "a reading could not be recorded",
            what=DataRead.HEALTH.value,
            booking=booking.pk,
            reader=reader.pk,
            error=type(error).__name__,
        )
