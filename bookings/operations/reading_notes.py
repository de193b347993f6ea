"""Reading notes. Every reading is logged before the text is shown."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import QuerySet

from accounts.models import Instructor, Student, User
from bookings.access import (
    history_relation,
    not_there,
    readable_before,
    reading_relation,
    reading_relations,
)
from bookings.domain.errors import Refused
from bookings.models import Assessment, AssessmentReading, Booking
from bookings.queries.notes import history_of, latest_of, latest_released, readings_of
from bookings.queries.today import bookings_of_day


@dataclass(frozen=True, slots=True)
class NotesRead:
    """Notes whose reading is logged.

    `readings` holds for a family who of the school has read them, by the note's id; None for
    anybody else.
    """

    notes: list[Assessment]
    readings: Mapping[int, list[AssessmentReading]] | None


@dataclass(frozen=True, slots=True)
class History:
    """The notes that a person may read about one student, none of them read yet."""

    student: Student
    rows: QuerySet[Assessment]
    reader: User
    relation: str
    reason: str
    now: datetime

    def read(self, notes: Iterable[Assessment]) -> NotesRead:
        """Logs the reading of these rows, and returns them."""
        return _read(self.reader, list(notes), self.relation, self.reason, self.now)


def open_history(*, reader: User, student_id: int, reason: str = "", now: datetime) -> History:
    """The released notes about a student, the latest first, where this person may read them all.

    Refused: "not-found", "invalid" for an admin without a reason.
    """
    student = Student.objects.select_related("user").filter(pk=student_id).first()
    relation = history_relation(reader, student, now=now) if student else None
    if student is None or relation is None:
        raise not_there()
    _check_reason(relation, reason)
    return History(student, history_of(student), reader, relation, reason, now)


def read_latest(*, reader: User, student_id: int, reason: str = "", now: datetime) -> NotesRead:
    """The student's latest released note, where this person may read it.

    Refused: "not-found" where there is none or they may not, "invalid" for an admin without a
    reason.
    """
    student = Student.objects.filter(pk=student_id).first()
    note = latest_released(student) if student else None
    relation = reading_relation(reader, note, now=now) if note else None
    if note is None or relation is None:
        raise not_there()
    return _read(reader, [note], relation, reason, now)


def read_carried(*, reader: User, booking: Booking, now: datetime) -> Assessment | None:
    """The note of a booking, else the student's latest; None where there is none to read."""
    note = booking.assessment or latest_released(booking.student)
    relation = reading_relation(reader, note, now=now) if note else None
    if note is None or relation is None:
        return None
    log_reading(reader=reader, note=note, relation=relation, now=now)
    return note


def read_before(
    *, reader: User, booking: Booking, notes: list[Assessment], now: datetime
) -> list[Assessment]:
    """Those of these notes that the instructor of a booking to wrap up may read.

    The caller has checked `access.may_assess_in`. Each reading is logged.
    """
    read = readable_before(booking, notes)
    return _read(reader, read, "instructor", "", now).notes if read else []


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
) -> NotesRead:
    """Logs who reads which note. Refused("invalid") where an admin gives no reason.

    `relation` is a result of `access.reading_relation`.
    """
    return _read(reader, [note], relation, reason, now)


def _read(
    reader: User, notes: list[Assessment], relation: str, reason: str, now: datetime
) -> NotesRead:
    _check_reason(relation, reason)
    AssessmentReading.objects.bulk_create(
        AssessmentReading(
            assessment=note,
            reader=reader,
            relation="author" if note.author.user_id == reader.pk else relation,
            reason=reason,
            read_at=now,
        )
        for note in notes
    )
    return NotesRead(notes, readings_of(notes) if relation == "family" else None)


def _check_reason(relation: str, reason: str) -> None:
    if relation == "admin" and not reason.strip():
        raise Refused(
            "invalid",
            "Say why you need to read this assessment; the reason is kept.",
            field="reason",
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
