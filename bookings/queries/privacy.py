"""Reads of what was asked about a person's data: exports, access exports, erasures."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from accounts.models import Guardianship, Instructor, Student, User
from bookings.domain.vocabulary import PrivacyEnded, PrivacyKind
from bookings.models import PrivacyRequest

ERASED_AFTER = timedelta(days=14)
"""How long after it was asked for an erasure can be taken back; then it is done, once approved."""
ACCESS_STAYS = timedelta(days=14)
"""How long after its approval an access export may be fetched."""


@dataclass(frozen=True, slots=True)
class Asked:
    """The open requests about one student, None where nothing was asked, and a past erasure."""

    erasure: PrivacyRequest | None
    access: PrivacyRequest | None
    is_erased: bool


def asked_about(student: Student, *, now: datetime) -> Asked:
    """What has been asked about this student: one query.

    An access export that can no longer be fetched counts as none.
    """
    rows = PrivacyRequest.objects.filter(student=student).select_related("asked_by", "approved_by")
    erasure = access = None
    is_erased = False
    for row in rows:
        if row.kind == PrivacyKind.ERASURE:
            is_erased = is_erased or row.ended_how == PrivacyEnded.DONE
            erasure = row if row.ended_at is None else erasure
        elif row.ended_at is None and not is_over(row, now):
            access = row
    return Asked(erasure, access, is_erased)


def is_over(access: PrivacyRequest, now: datetime) -> bool:
    """Whether an access export was approved too long ago to be fetched."""
    return access.approved_at is not None and access.approved_at + ACCESS_STAYS <= now


def erased_on(erasure: PrivacyRequest) -> datetime:
    """The instant from which an approved erasure is done."""
    return max(erasure.asked_at + ERASED_AFTER, erasure.approved_at or erasure.asked_at)


def erasures_due(now: datetime) -> list[int]:
    """The ids of approved erasures whose fourteen days are over, the oldest first."""
    rows = PrivacyRequest.objects.open().erasures().filter(approved_at__isnull=False)
    due = rows.filter(asked_at__lte=now - ERASED_AFTER).order_by("asked_at", "pk")
    return list(due.values_list("pk", flat=True))


def waits_for_erasure(student: Student) -> bool:
    """Whether the erasure of this student has been asked for, or done."""
    rows = PrivacyRequest.objects.erasures().filter(student=student)
    return rows.exclude(ended_how=PrivacyEnded.TAKEN_BACK).exists()


def erased_students() -> Iterable[int]:
    """The ids of students who were erased, in order: the list that a restore needs."""
    done = PrivacyRequest.objects.erasures().filter(ended_how=PrivacyEnded.DONE).order_by("student")
    return done.values_list("student", flat=True).distinct()


def accounts_going(student: Student) -> list[User]:
    """The accounts that are erased with a student: one query for each of the family.

    The student's own, and those of their guardians, where nothing else at the school is theirs:
    they neither teach nor run it, and answer for nobody else.
    """
    people = [student.user] if student.user is not None else []
    rows = Guardianship.objects.filter(student=student).select_related("guardian")
    people += [row.guardian for row in rows.order_by("guardian_id")]
    return [user for user in people if not _has_another_role(user, student)]


def _has_another_role(user: User, student: Student) -> bool:
    if user.is_staff or Instructor.objects.filter(user=user).exists():
        return True
    learns = Student.objects.filter(user=user).exclude(pk=student.pk)
    guards = Guardianship.objects.filter(guardian=user).exclude(student=student)
    return learns.exists() or guards.exists()
