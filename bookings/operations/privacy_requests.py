"""Asking for an erasure or an access export; approved by an admin, taken back until it is done."""

from datetime import datetime

from accounts.models import Student, User
from bookings import notices, outbox
from bookings.access import (
    access_own_data,
    find_own_data,
    may_approve,
    not_there,
    require_admin,
)
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import PrivacyEnded, PrivacyKind
from bookings.models import PrivacyRequest
from bookings.operations.audit import record
from bookings.operations.commitments import end_all_ahead, lock_ahead
from bookings.operations.locks import lock_students
from bookings.queries.privacy import asked_about, erased_on, is_over

LEAVES = "The student leaves the school."
"""What everybody reads whose meeting ends with the request."""


def ask_for_erasure(
    *, actor: User, student_id: int, reason: str = "", end_bookings: bool = False, now: datetime
) -> PrivacyRequest:
    """Asks for the erasure of a student. What they have ahead ends at once.

    An admin gives a reason. Refused: "not-found"; "invalid" without the reason; "already-done"
    where it is asked for or done; "has-bookings" where something would end and `end_bookings` is
    False.
    """
    student, relation = access_own_data(actor, student_id, reason=reason, now=now)
    lock_ahead([student.pk], now=now)
    current = lock_students([student.pk])[student.pk]
    asked = asked_about(current, now=now)
    if asked.is_erased or asked.erasure is not None:
        raise Refused("already-done", "The erasure has been asked for already.")
    end_all_ahead(actor=actor, students=[current.pk], why=LEAVES if end_bookings else None, now=now)
    request = _ask(PrivacyKind.ERASURE, actor, current, relation, reason, now)
    if current.is_active:
        current.is_active = False
        current.save(update_fields=["is_active"])
        record(actor=actor, verb="left school", thing=current, fields=["is_active"], now=now)
    _tell("asked", request, current, now)
    return request


def ask_for_access(
    *, actor: User, student_id: int, reason: str = "", now: datetime
) -> PrivacyRequest:
    """Asks for everything that is stored of a student, private remarks as well.

    Refused: "not-found", "invalid" for an admin without a reason, "already-done".
    """
    student, relation = access_own_data(actor, student_id, reason=reason, now=now)
    current = lock_students([student.pk])[student.pk]
    asked = asked_about(current, now=now)
    if asked.is_erased or asked.access is not None:
        raise Refused("already-done", "The access export has been asked for already.")
    past = PrivacyRequest.objects.open().filter(student=current, kind=PrivacyKind.ACCESS)
    past.update(ended_at=now, ended_how=PrivacyEnded.DONE)
    request = _ask(PrivacyKind.ACCESS, actor, current, relation, reason, now)
    _tell("asked", request, current, now)
    return request


def approve(*, actor: User, student_id: int, kind: PrivacyKind, now: datetime) -> PrivacyRequest:
    """Approves what was asked, as an admin.

    An erasure is then done once its fourteen days are over. Refused: "not-allowed", also for one's
    own family where there is another admin; "not-found", "already-done".
    """
    require_admin(actor)
    student, request = _open(actor, student_id, kind, now)
    if not may_approve(actor, student, now=now):
        raise Refused("not-allowed", "Another admin has to decide about your own family.")
    if request.approved_at is not None:
        raise Refused("already-done", "This has been approved already.")
    request.approved_by, request.approved_at = actor, now
    request.save(update_fields=["approved_by", "approved_at"])
    record(actor=actor, verb="approved", thing=request, fields=["approved_at"], now=now)
    _tell("approved", request, student, now)
    return request


def take_back(*, actor: User, student_id: int, kind: PrivacyKind, now: datetime) -> PrivacyRequest:
    """Takes back what was asked. The student learns here again; what ended stays so.

    Refused: "not-found" where nothing is asked for, or it has been done.
    """
    student, request = _open(actor, student_id, kind, now)
    request.ended_at, request.ended_how = now, PrivacyEnded.TAKEN_BACK
    request.save(update_fields=["ended_at", "ended_how"])
    record(actor=actor, verb="took back", thing=request, fields=["ended_at"], now=now)
    is_open = student.user is None or student.user.is_active
    if kind == PrivacyKind.ERASURE and request.was_here and is_open:
        student.is_active = True
        student.save(update_fields=["is_active"])
        record(actor=actor, verb="returned to school", thing=student, fields=["is_active"], now=now)
    _tell("taken-back", request, student, now)
    return request


def _open(
    actor: User, student_id: int, kind: PrivacyKind, now: datetime
) -> tuple[Student, PrivacyRequest]:
    """The locked student and the open request of this kind."""
    found, _ = find_own_data(actor, student_id, now=now)
    student = lock_students([found.pk])[found.pk]
    rows = PrivacyRequest.objects.open().filter(student=student, kind=kind)
    request = rows.select_related("student__user").first()
    if request is None or (kind == PrivacyKind.ACCESS and is_over(request, now)):
        raise not_there()
    return student, request


def _ask(
    kind: PrivacyKind, actor: User, student: Student, relation: str, reason: str, now: datetime
) -> PrivacyRequest:
    request = PrivacyRequest.objects.create(
        kind=kind, student=student, asked_by=actor, asked_at=now, was_here=student.is_active
    )
    why = reason.strip()[:200] if relation == "admin" else ""
    record(actor=actor, verb=f"asked for {kind}", thing=request, reason=why, now=now)
    return request


def _tell(event: str, request: PrivacyRequest, student: Student, now: datetime) -> None:
    messages = notices.privacy_request(
        request, student, event, erased_on=erased_on(request), now=now
    )
    outbox.enqueue(messages, now=now)
