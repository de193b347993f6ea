"""Reading an assessment. Every reading is logged before the text is shown."""

from dataclasses import dataclass
from datetime import date, datetime

from accounts.models import Instructor, Student, User
from bookings.access import not_there, reading_relation, reading_relations
from bookings.domain.errors import Refused
from bookings.models import Assessment, AssessmentReading, Booking
from bookings.queries.notes import latest_of, latest_released
from bookings.queries.today import bookings_of_day


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


@dataclass(frozen=True, slots=True)
class Brief:
    """A booking with the note that its instructor reads before the meeting.

    `relation` is theirs to the note, empty where there is none to read.
    """

    booking: Booking
    note: Assessment | None
    relation: str


def read_briefs(*, reader: User, instructor: Instructor, on: date, now: datetime) -> list[Brief]:
    """Every brief of one day on the instructor's account clock, by start.

    Each reading of a note is logged. Seven queries, whatever the day holds.
    """
    bookings = bookings_of_day(instructor, on)
    bare = [row.student for row in bookings if row.assessment is None]
    latest = latest_of(bare) if bare else {}
    notes = {row.pk: row.assessment or latest.get(row.student_id) for row in bookings}
    found = [note for note in notes.values() if note is not None]
    relations = reading_relations(reader, found, now=now)
    relations = {pk: name for pk, name in relations.items() if name != "admin"}
    AssessmentReading.objects.bulk_create(
        AssessmentReading(assessment_id=pk, reader=reader, relation=name, read_at=now)
        for pk, name in relations.items()
    )
    briefs = []
    for booking in bookings:
        note = notes[booking.pk]
        relation = relations.get(note.pk, "") if note else ""
        briefs.append(Brief(booking, note if relation else None, relation))
    return briefs


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
