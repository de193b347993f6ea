"""A person's own data as one archive. It is made when it is asked for, and stored nowhere."""

from dataclasses import dataclass
from datetime import datetime

from accounts.models import Student, User
from bookings.access import access_own_data, find_own_data, not_there
from bookings.domain.data_readings import DataRead
from bookings.domain.errors import Refused
from bookings.models import Assessment, AssessmentReading
from bookings.operations.audit import record
from bookings.operations.data_readings import record_reading
from bookings.queries.archives import archive_of
from bookings.queries.exports import Scope
from bookings.queries.privacy import asked_about

LONGEST_REASON = 200


@dataclass(frozen=True, slots=True)
class Export:
    """The archive's bytes, and the name to keep it under, which names nobody."""

    name: str
    content: bytes


def export_person(*, actor: User, student_id: int, reason: str = "", now: datetime) -> Export:
    """What is stored of a student, with released notes only and without private remarks.

    It is for the student, a minor's guardians, and an admin with a reason, who is not told what
    hurts. Each note in it is logged as read, and an admin's export is recorded.

    Refused: "not-found", "invalid" without a reason.
    """
    student, relation = access_own_data(actor, student_id, reason=reason, now=now)
    scope = Scope.FAMILY if relation == "family" else Scope.ADMIN
    return _export(actor, student, scope, relation, reason, now)


def export_all(*, actor: User, student_id: int, now: datetime) -> Export:
    """The access export, for whoever asked for it once an admin has approved it.

    It holds drafts and private remarks too. Refused: "not-found" where they asked for none,
    "not-yet" until it is approved.
    """
    student, relation = find_own_data(actor, student_id, now=now)
    access = asked_about(student, now=now).access
    if access is None or access.asked_by_id != actor.pk:
        raise not_there()
    if access.approved_at is None:
        raise Refused("not-yet", "An admin has to approve this first. You get an email then.")
    return _export(actor, student, Scope.ACCESS, relation, "access export", now)


def _export(
    actor: User, student: Student, scope: Scope, relation: str, reason: str, now: datetime
) -> Export:
    why = reason.strip()[:LONGEST_REASON] if relation == "admin" else ""
    content = archive_of(student, scope, now=now)
    notes = Assessment.objects.filter(student=student)
    AssessmentReading.objects.bulk_create(
        AssessmentReading(assessment=note, reader=actor, relation=relation, reason=why, read_at=now)
        for note in (notes if scope == Scope.ACCESS else notes.released())
    )
    what = DataRead.ACCESS if scope == Scope.ACCESS else DataRead.EXPORT
    record_reading(reader=actor, student=student, what=what, relation=relation, now=now)
    record(actor=actor, verb="exported", thing=student, fields=[scope.value], reason=why, now=now)
    return Export(f"student-{student.pk}-{now:%Y-%m-%d}.zip", content)
