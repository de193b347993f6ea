"""Reading an assessment. Every reading is logged before the text is shown."""

from collections.abc import Iterable
from datetime import datetime

from accounts.models import Student, User
from bookings.access import not_there, reading_relation
from bookings.domain.errors import Refused
from bookings.models import Assessment, AssessmentReading, Booking
from bookings.queries.notes import latest_released


def read_latest(*, reader: User, student_id: int, reason: str = "", now: datetime) -> Assessment:
    """The student's latest released assessment, where this person may read it.

    Refused: "not-found" where there is none or they may not, "invalid" for an admin without a
    reason.
    """
    student = Student.objects.filter(pk=student_id).first()
    note = latest_released(student) if student else None
    relation = reading_relation(reader, note, now=now) if note else None
    if note is None or relation is None:
        raise not_there()
    log_reading(reader=reader, note=note, relation=relation, reason=reason, now=now)
    return note


def read_carried(*, reader: User, booking: Booking, now: datetime) -> Assessment | None:
    """The assessment of a booking, else the student's latest; None where there is none to read."""
    note = booking.assessment or latest_released(booking.student)
    relation = reading_relation(reader, note, now=now) if note else None
    if note is None or relation is None:
        return None
    log_reading(reader=reader, note=note, relation=relation, now=now)
    return note


def log_reading(
    *, reader: User, note: Assessment, relation: str, reason: str = "", now: datetime
) -> None:
    """Logs who reads which note. Refused("invalid") where an admin gives no reason.

    `relation` is a result of `access.reading_relation`.
    """
    if relation == "admin" and not reason.strip():
        raise Refused(
            "invalid",
            "Say why you need to read this assessment; the reason is kept.",
            field="reason",
        )
    AssessmentReading.objects.create(
        assessment=note, reader=reader, relation=relation, reason=reason, read_at=now
    )


def log_listed(*, reader: User, notes: Iterable[Assessment], now: datetime) -> None:
    """Logs that a list shows this instructor the obstacles of these notes: at most one query.

    Notes of their own are left out: they know what they wrote.
    """
    AssessmentReading.objects.bulk_create(
        AssessmentReading(assessment=note, reader=reader, relation="instructor", read_at=now)
        for note in notes
        if note.author.user_id != reader.pk
    )
