"""Owed lessons: lapsed when due, and extended, settled or carried to another term by an admin."""

from datetime import date, datetime, timedelta

from accounts.models import Student, User
from bookings import notices, outbox
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.domain.owed import date_in_words
from bookings.domain.vocabulary import OwedCause, OwedClosed
from bookings.domain.zones import zone
from bookings.models import Offering, OwedLesson, Term
from bookings.models.owed import LONGEST_REASON
from bookings.operations.audit import record
from bookings.operations.locks import lock_students
from bookings.operations.owed_reminders import take_back_reminder
from bookings.operations.versions import check_version
from bookings.queries.owed import check_still_owed, is_near, is_over

_EASTMOST = timedelta(hours=14)
"""How far ahead of UTC a clock can be: no date is over anywhere before."""


def lapse_owed(*, now: datetime) -> int:
    """Closes the owed lessons whose use-by date is over on the student's clock; returns how many.

    Each family is told once. A second run, late or beside the first, finds nothing left to do.
    """
    due = OwedLesson.objects.still_owed().filter(use_by__lt=(now + _EASTMOST).date())
    lock_students(due.values_list("student_id", flat=True))
    lapsed = [owed for owed in due.with_details().order_by("pk") if is_over(owed, now)]
    for owed in lapsed:
        _close(owed, OwedClosed.LAPSED, actor=None, now=now)
    outbox.enqueue(notices.owed_lapsed(lapsed, now=now), now=now)
    return len(lapsed)


def extend_owed(
    *,
    actor: User,
    owed: OwedLesson,
    use_by: date,
    reason: str,
    version: int | None = None,
    now: datetime,
) -> OwedLesson:
    """Gives the family more time, or less. A lapsed one is owed again.

    Refused: "past" for a date that is over, "owed-settled" where it has been made up or settled,
    "invalid" without a reason, "stale".
    """
    current = _locked(actor, owed, version)
    if current.closed_how != OwedClosed.LAPSED:
        check_still_owed(current)
    _check_ahead(use_by, current.student, now)
    take_back_reminder(current)
    current.use_by, current.reason = use_by, _reason(reason)
    # The email about the new date says it; a date that is still far is told of again.
    current.reminded_at = now if is_near(current, now) else None
    current.closed_at, current.closed_how = None, ""
    _save(current, "extended", ["use_by", "reason"], actor, now)
    outbox.enqueue(notices.owed_changed(current, now=now), now=now)
    return current


def settle_owed(
    *,
    actor: User,
    owed: OwedLesson,
    reason: str,
    version: int | None = None,
    now: datetime,
) -> OwedLesson:
    """Closes an owed lesson that was settled outside Levare, such as by a refund.

    Refused: "owed-settled", "invalid" without a reason, "stale".
    """
    current = _locked(actor, owed, version)
    check_still_owed(current)
    current.reason = _reason(reason)
    _close(current, OwedClosed.BY_HAND, actor=actor, now=now)
    outbox.enqueue(notices.owed_changed(current, now=now), now=now)
    return current


def carry_out(
    *,
    actor: User,
    owed: OwedLesson,
    term: Term,
    use_by: date,
    reason: str,
    version: int | None = None,
    now: datetime,
) -> OwedLesson:
    """Carries an owed lesson to another term, and returns the one that is owed there.

    Refused: "owed-settled", "invalid" without a reason and for the same term, "past", "stale".
    """
    current = _locked(actor, owed, version)
    if current.closed_how != OwedClosed.LAPSED:
        check_still_owed(current)
    if current.term_id == term.pk:
        raise Refused("invalid", "It is owed in this term already.", field="term")
    _check_ahead(use_by, current.student, now)
    why = _reason(reason)
    _close(current, OwedClosed.CARRIED_OUT, actor=actor, now=now)
    return _carried(
        actor, current.student, current.offering, current.minutes, term, use_by, why, current, now
    )


def carry_in(
    *,
    actor: User,
    student: Student,
    offering: Offering,
    term: Term,
    use_by: date,
    reason: str,
    now: datetime,
) -> OwedLesson:
    """Adds a lesson that the school owes from before, to the account of a term.

    Refused: "wrong-kind" for anything but a private lesson, "past", "invalid" without a reason.
    """
    require_admin(actor)
    locked = lock_students([student.pk])[student.pk]
    if not offering.is_private_lesson:
        raise Refused("wrong-kind", "Only private lessons are carried from term to term.")
    _check_ahead(use_by, locked, now)
    return _carried(
        actor, locked, offering, offering.minutes, term, use_by, _reason(reason), None, now
    )


def _carried(
    actor: User,
    student: Student,
    offering: Offering,
    minutes: int,
    term: Term,
    use_by: date,
    reason: str,
    before: OwedLesson | None,
    now: datetime,
) -> OwedLesson:
    owed = OwedLesson.objects.create(
        student=student,
        term=term,
        offering=offering,
        minutes=minutes,
        cause=OwedCause.CARRIED_IN,
        reason=reason,
        use_by=use_by,
        owed_at=now,
        carried_from=before,
    )
    record(actor=actor, verb="carried in", thing=owed, now=now)
    outbox.enqueue(notices.owed_changed(owed, now=now), now=now)
    return owed


def _locked(actor: User, owed: OwedLesson, version: int | None) -> OwedLesson:
    require_admin(actor)
    lock_students([owed.student_id])
    current = OwedLesson.objects.with_details().filter(pk=owed.pk).first()
    if current is None:
        raise Refused("already-ended", "This lesson is not owed any more.")
    check_version(current, version)
    return current


def _check_ahead(use_by: date, student: Student, now: datetime) -> None:
    """Refused("past") for a use-by date that is over on the student's clock."""
    if use_by < now.astimezone(zone(student.zone)).date():
        raise Refused(
            "past",
            f"The use-by date {date_in_words(use_by)} is over. Choose a later one.",
            field="use_by",
        )


def _reason(reason: str) -> str:
    reason = reason.strip()
    if not reason or len(reason) > LONGEST_REASON:
        raise Refused(
            "invalid",
            f"Say why, in up to {LONGEST_REASON} characters. The family reads it.",
            field="reason",
        )
    return reason


def _close(owed: OwedLesson, how: OwedClosed, *, actor: User | None, now: datetime) -> None:
    take_back_reminder(owed)
    owed.closed_at, owed.closed_how = now, how
    verb = how.value.replace("-", " ")
    _save(owed, verb, ["closed_at", "reason"], actor, now)


def _save(
    owed: OwedLesson, verb: str, fields: list[str], actor: User | None, now: datetime
) -> None:
    owed.version += 1
    changed = ["use_by", "reason", "reminded_at", "closed_at", "closed_how", "version"]
    owed.save(update_fields=changed)
    record(actor=actor, verb=verb, thing=owed, fields=fields, now=now)
