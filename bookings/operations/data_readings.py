"""The record of who of the school read a person's data, apart from notes."""

from datetime import datetime

from accounts.models import Student, User
from bookings.domain.data_readings import DataRead
from bookings.models import Booking, DataReading


def record_reading(
    *,
    reader: User,
    student: Student,
    what: DataRead,
    relation: str,
    booking: Booking | None = None,
    now: datetime,
) -> None:
    """Records that this person reads it today, once; a family's own reading is not recorded.

    `booking` is the one whose intake is read. One statement: the table holds one row a date (UTC).
    """
    if relation == "family":
        return
    row = DataReading(
        student=student,
        reader=reader,
        what=what,
        relation=relation,
        booking=booking,
        on=now.date(),
        first_at=now,
    )
    DataReading.objects.bulk_create([row], ignore_conflicts=True)
