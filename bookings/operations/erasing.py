"""Erasing a person: their row stays as "Former student", and everything that tells of them goes.

What an erasure does with each table stands in the data map. Statements and accounts stay whole:
they hold ids, times and minutes.
"""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime

from accounts.models import Student, User
from accounts.sessions import end_sessions_and_tokens
from bookings import outbox
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import PrivacyEnded, PrivacyKind
from bookings.domain.zones import zone
from bookings.models import Booking, PrivacyRequest
from bookings.operations.audit import record
from bookings.operations.commitments import end_all_ahead, lock_ahead
from bookings.operations.erasing_texts import (
    Traces,
    addresses_of,
    erase_emails_to,
    erase_texts,
)
from bookings.operations.locks import lock_students
from bookings.operations.privacy_requests import LEAVES
from bookings.queries.data_map import DATA_MAP, Erased, emptied
from bookings.queries.exports import rows_of_person
from bookings.queries.privacy import accounts_going, erased_on

FORMER_STUDENT, FORMER_GUARDIAN = "Former student", "Former guardian"
_NOWHERE = "former-{}@erased.invalid"
"""RFC 2606 section 2: nothing is ever delivered to a name under .invalid."""


@dataclass(frozen=True, slots=True)
class Gone:
    """A student who was erased, by id, and the ids of accounts that went with them."""

    student: int
    accounts: list[int]


def erase_due(*, request_id: int, now: datetime) -> Gone | None:
    """Does one approved erasure whose fourteen days are over; None where it has been taken back or
    done meanwhile.
    """
    request = _due(request_id, now)
    if request is None:
        return None
    lock_ahead([request.student_id], now=now)
    request = _due(request_id, now)  # read again under the student's lock
    if request is None or request.approved_by is None:
        return None
    gone = _erase(request.student_id, request.approved_by, now)
    request.ended_at, request.ended_how = now, PrivacyEnded.DONE
    request.save(update_fields=["ended_at", "ended_how"])
    return gone


def erase_again(*, actor: User, student_id: int, now: datetime) -> Gone:
    """Erases a student who had been erased before an older back-up was restored.

    Refused: "not-allowed" for anybody but an admin, "not-found" for an unknown id.
    """
    require_admin(actor)
    if not Student.objects.filter(pk=student_id).exists():
        raise Refused("not-found", f"There is no student {student_id}.")
    lock_ahead([student_id], now=now)
    gone = _erase(student_id, actor, now)
    requests = PrivacyRequest.objects.erasures().filter(student=student_id)
    if not requests.filter(ended_how=PrivacyEnded.DONE).exists():
        open_one = requests.open().first() or PrivacyRequest(
            kind=PrivacyKind.ERASURE, student_id=student_id, asked_at=now
        )
        open_one.ended_at, open_one.ended_how = now, PrivacyEnded.DONE
        open_one.save()
    return gone


def _due(request_id: int, now: datetime) -> PrivacyRequest | None:
    rows = PrivacyRequest.objects.open().erasures().select_related("approved_by")
    found = rows.filter(pk=request_id, approved_at__isnull=False).first()
    return found if found is not None and erased_on(found) <= now else None


def _erase(student_id: int, actor: User, now: datetime) -> Gone:
    student = lock_students([student_id])[student_id]
    accounts = _locked(accounts_going(student))
    ids = [user.pk for user in accounts]
    traces = _traces(student, accounts, now)
    shown_to = [*student.guardianships.values_list("guardian", flat=True), *_teachers(student)]
    erase_texts(traces, now=now)
    _delete_and_empty(student.pk, ids)
    for user in accounts:
        _former_account(user, FORMER_STUDENT if user.pk == student.user_id else FORMER_GUARDIAN)
    _former_student(student)
    # Nothing is ahead after a request. After a restore there may be, and it ends without a name.
    end_all_ahead(actor=actor, students=[student.pk], why=LEAVES, now=now)
    erase_emails_to(ids)
    record(actor=actor, verb="erased", thing=student, now=now)
    outbox.bump_feeds(shown_to, now=now)
    return Gone(student.pk, ids)


def _traces(student: Student, accounts: list[User], now: datetime) -> Traces:
    """By what the student and these accounts are known.

    The name of an account that stays is not among it: an instructor's stands in everybody's emails.
    """
    ids = [user.pk for user in accounts]
    goes = student.user_id is None or student.user_id in ids
    is_known = goes and student.full_name != FORMER_STUDENT
    known = {student.full_name if is_known else "", *(user.name for user in accounts)}
    names = sorted(known - {"", FORMER_STUDENT, FORMER_GUARDIAN})
    return Traces(
        student.pk,
        student.first_name if is_known else "",
        names,
        addresses_of(student.pk, accounts, names, now=now),
        ids,
    )


def _locked(accounts: Iterable[User]) -> list[User]:
    """These accounts, locked by id and then read."""
    rows = User.objects.filter(pk__in=[user.pk for user in accounts]).order_by("pk")
    return list(rows.select_for_update(no_key=True))


def _teachers(student: Student) -> Iterable[int]:
    rows = Booking.objects.filter(student=student).order_by()
    return rows.values_list("meeting__instructor__user", flat=True).distinct()


def _delete_and_empty(student_id: int, accounts: Collection[int]) -> None:
    """Deletes the rows that go whole by the data map, and empties those that stay without words."""
    Booking.objects.filter(student=student_id).update(assessment=None)
    for table in DATA_MAP:
        rows = rows_of_person(table, student_id, accounts)
        if table.erased == Erased.DELETED:
            rows.delete()
        elif table.erased == Erased.EMPTIED:
            rows.update(**emptied(table.emptied))


def _former_student(student: Student) -> None:
    """Leaves the row that bookings and accounts point at, without anything of the person.

    It no longer points at an account: that may be an instructor's, and stays theirs.
    """
    student.user, student.own_name = None, FORMER_STUDENT
    student.own_time_zone = zone("UTC")
    student.level = student.unit = 1
    student.adult_on = student.regular_instructor = None
    student.is_active = False
    student.save()


def _former_account(user: User, name: str) -> None:
    """Closes an account for good: nobody can sign in with it, and no email reaches anybody."""
    user.name, user.email = name, _NOWHERE.format(user.pk)
    user.time_zone = zone("UTC")
    user.is_active = False
    user.last_login = None
    user.set_unusable_password()
    user.save()
    end_sessions_and_tokens(user)
