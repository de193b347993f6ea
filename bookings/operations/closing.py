"""Leaving the school: an account is closed, or a student stops learning here, and both again."""

from datetime import datetime

from accounts.models import Instructor, Student, User, Welcome
from accounts.sessions import end_sessions_and_tokens
from bookings import notices, outbox
from bookings.access import require_admin, students_near
from bookings.domain.errors import Refused
from bookings.operations.accounts import check_admin_is_left, check_person, lock_account
from bookings.operations.addresses import void_changes
from bookings.operations.audit import record
from bookings.operations.commitments import end_all_ahead, lock_ahead
from bookings.operations.invitations import void
from bookings.operations.leaving import dismiss_instructor
from bookings.operations.locks import lock_students
from bookings.operations.service_tokens import revoke_all_of
from bookings.operations.subscriptions import revoke_feed
from bookings.queries.commitments import Ahead
from bookings.queries.leaving import students_left_by
from bookings.queries.privacy import waits_for_erasure


def close_account(
    *,
    actor: User,
    user: User,
    why: str | None = None,
    seen: str | None = None,
    now: datetime,
) -> User:
    """Closes an account and ends all roles of its person, with everything that lies ahead.

    That is what they teach, what they hold as a student, and what a child holds who has no other
    guardian. `why` is a sentence for everybody concerned, `seen` what the admin read of the person
    (`Person.seen`). Refused: "has-bookings" where something lies ahead and `why` is None,
    "already-ended", "last-admin", "conflict", and as `check_person`.
    """
    require_admin(actor)
    near = [student.pk for student in students_near(user)]
    as_teacher = Instructor.objects.filter(user=user)
    known = as_teacher.first()
    lock_ahead(near, taught_by=known.pk if known else None, now=now)
    current = _lock_open(user, seen, actor)
    # Read again under the locks: in the same instant another guardian may leave or a role be given.
    leaving = students_left_by(current, now=now)
    ids = [student.pk for student in leaving]
    teacher = as_teacher.teaching().first()
    if (teacher is not None and known is None) or not set(ids) <= set(near):
        raise Refused("conflict", "A role has just been given to them. Look again, then decide.")
    if teacher is not None:
        dismiss_instructor(actor=actor, instructor=teacher, call_off_why=why, now=now)
    end_all_ahead(actor=actor, students=ids, why=why, now=now)
    for student in leaving:
        if student.user_id == current.pk:
            _leave(actor, student, now)
    _close(current, actor, now)
    shut_out(actor=actor, user=current, now=now)
    outbox.enqueue(notices.account_closed(current, why=why or "", now=now), now=now)
    outbox.bump_feeds([current.pk], now=now)
    return current


def _lock_open(user: User, seen: str | None, actor: User) -> User:
    """The locked account. Refused: as `check_person`, "already-ended" where it is closed,
    "last-admin".
    """
    current = lock_account(user)
    check_person(current, seen, actor=actor)
    if not current.is_active:
        raise Refused("already-ended", "This account is closed already.")
    check_admin_is_left(current)
    return current


def _close(user: User, actor: User, now: datetime) -> None:
    if user.is_staff:
        record(actor=actor, verb="made no admin", thing=user, fields=["is_staff"], now=now)
        revoke_all_of(user, actor=actor, now=now)
    user.is_active = user.is_staff = user.is_superuser = False
    user.save(update_fields=["is_active", "is_staff", "is_superuser"])
    record(actor=actor, verb="closed account", thing=user, fields=["is_active"], now=now)
    _void_letters(user, now)


def _void_letters(user: User, now: datetime) -> None:
    """Ends open invitations, which would give a role to a person who is shut out, and a change of
    the address.
    """
    void(Welcome.objects.usable(now).filter(email=user.email), now=now)
    void_changes(user, now=now)


def shut_out(*, actor: User | None, user: User, now: datetime) -> None:
    """Ends this person's sessions and tokens and revokes their feeds, for good.

    Activating the account again brings none of them back.
    """
    end_sessions_and_tokens(user)
    for feed in user.feeds.not_revoked().order_by("pk"):
        revoke_feed(actor=actor, feed=feed, now=now)


def reopen_account(*, actor: User, user: User, seen: str | None = None, now: datetime) -> User:
    """Opens a closed account. The old password works again, and a student learns here again.

    An admin gives other roles anew. Refused: "already-done" for an open account, and as
    `check_person`.
    """
    require_admin(actor)
    student = Student.objects.filter(user=user).first()
    locked = lock_students([student.pk] if student else [])
    current = lock_account(user)
    check_person(current, seen, actor=actor)
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
    """Ends a student's lessons here; their account stays. Returns what ended with it.

    Refused: "already-ended", and as `end_all_ahead`.
    """
    require_admin(actor)
    lock_ahead([student.pk], now=now)
    current = lock_students([student.pk])[student.pk]
    if not current.is_active:
        raise Refused("already-ended", f"{current.first_name} has left the school already.")
    ended = end_all_ahead(actor=actor, students=[current.pk], why=why, now=now)
    _leave(actor, current, now)
    return ended


def return_to_school(*, actor: User, student: Student, now: datetime) -> Student:
    """Lets a student who left learn here again. What ended stays so.

    Refused: "already-done"; "already-ended" for a closed account, and for a student who is erased
    or is to be.
    """
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
    if waits_for_erasure(student):
        raise Refused("already-ended", "Their erasure has been asked for: take that back first.")
    student.is_active = True
    student.save(update_fields=["is_active"])
    record(actor=actor, verb="returned to school", thing=student, fields=["is_active"], now=now)
