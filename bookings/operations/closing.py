"""Whoever leaves the school: an account is closed, or a student learns here no more. What lies ahead is settled with it."""

from datetime import datetime

from accounts.models import Instructor, Student, User
from bookings import notices, outbox
from bookings.access import require_admin, students_near
from bookings.domain.errors import Refused
from bookings.operations.accounts import check_admin_is_left, lock_account
from bookings.operations.audit import record
from bookings.operations.invitations import open_invitations, void
from bookings.operations.leaving import dismiss_instructor
from bookings.operations.locks import lock_students
from bookings.operations.settling import hold, settle
from bookings.operations.shutting_out import shut_out
from bookings.queries.ahead import Ahead
from bookings.queries.leaving import students_left_by


def close_account(*, actor: User, user: User, why: str | None = None, now: datetime) -> User:
    """Nobody signs in with it any more, and nothing is booked for or with its person; all their roles end.

    What stands in the way ends with the sentence `why`: meetings they teach, what they hold as a student, and what a
    child holds who has no other guardian. Refused("has-bookings") without one; "already-ended", "last-admin".
    """
    require_admin(actor)
    near = [student.pk for student in students_near(user)]
    as_teacher = Instructor.objects.filter(user=user)
    known = as_teacher.first()
    hold(near, taught_by=known.pk if known else None, now=now)
    current = lock_account(user)
    if not current.is_active:
        raise Refused("already-ended", "This account is closed already.")
    check_admin_is_left(current)
    # Read under the locks: another guardian may have gone, or a role been given, in the same instant.
    leaving = students_left_by(current, now=now)
    ids = [student.pk for student in leaving]
    teacher = as_teacher.filter(is_active=True).first()
    if (teacher is not None and known is None) or not set(ids) <= set(near):
        raise Refused("conflict", "A role has just been given to them. Look again, then decide.")
    if teacher is not None:
        dismiss_instructor(actor=actor, instructor=teacher, call_off_why=why, now=now)
    settle(actor=actor, students=ids, why=why, now=now)
    for student in leaving:
        if student.user_id == current.pk:
            _leave(actor, student, now)
    if current.is_staff:
        record(actor=actor, verb="made no admin", thing=current, fields=["is_staff"], now=now)
    current.is_active = current.is_staff = current.is_superuser = False
    current.save(update_fields=["is_active", "is_staff", "is_superuser"])
    record(actor=actor, verb="closed account", thing=current, fields=["is_active"], now=now)
    # Else an invitation that is still open would give somebody who is shut out a role.
    void(open_invitations(now).filter(email=current.email), now=now)
    shut_out(actor=actor, user=current, now=now)
    outbox.enqueue(notices.account_closed(current, why=why or "", now=now), now=now)
    outbox.bump_feeds([current.pk], now=now)
    return current


def reopen_account(*, actor: User, user: User, now: datetime) -> User:
    """The person signs in again with the password of before, and is a student here again. Other roles are given anew."""
    require_admin(actor)
    student = Student.objects.filter(user=user).first()
    locked = lock_students([student.pk] if student else [])
    current = lock_account(user)
    if current.is_active:
        raise Refused("already-done", "This account is open.")
    current.is_active = True
    current.save(update_fields=["is_active"])
    record(actor=actor, verb="reopened account", thing=current, fields=["is_active"], now=now)
    for one in locked.values():
        if not one.is_active:
            _return(actor, one, now)
    outbox.enqueue(notices.account_reopened(current, now=now), now=now)
    outbox.bump_feeds([current.pk], now=now)
    return current


def leave_school(*, actor: User, student: Student, why: str | None = None, now: datetime) -> Ahead:
    """A student learns here no more; an account stays. Returns what ended, as `settle` does, which may refuse."""
    require_admin(actor)
    hold([student.pk], now=now)
    current = lock_students([student.pk])[student.pk]
    if not current.is_active:
        raise Refused("already-ended", f"{current.first_name} has left the school already.")
    ended = settle(actor=actor, students=[current.pk], why=why, now=now)
    _leave(actor, current, now)
    return ended


def return_to_school(*, actor: User, student: Student, now: datetime) -> Student:
    """Somebody who left learns here again; nothing that ended comes back."""
    require_admin(actor)
    current = lock_students([student.pk])[student.pk]
    if current.is_active:
        raise Refused("already-done", f"{current.first_name} is a student here already.")
    if current.user is not None and not current.user.is_active:
        raise Refused("already-ended", "The account of this student is closed: open it again.")
    _return(actor, current, now)
    return current


def _leave(actor: User, student: Student, now: datetime) -> None:
    student.is_active = False
    student.save(update_fields=["is_active"])
    record(actor=actor, verb="left school", thing=student, fields=["is_active"], now=now)


def _return(actor: User, student: Student, now: datetime) -> None:
    student.is_active = True
    student.save(update_fields=["is_active"])
    record(actor=actor, verb="returned to school", thing=student, fields=["is_active"], now=now)
