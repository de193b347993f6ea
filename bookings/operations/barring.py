"""Barring a guardian from everything about one child, at once, and lifting the bar again."""

from collections.abc import Iterable
from datetime import datetime

from accounts.models import Guardianship, User, Welcome
from bookings import outbox
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.domain.families import is_answered_for
from bookings.models import Booking, Meeting
from bookings.operations.audit import record
from bookings.operations.commitments import end_all_ahead, lock_ahead
from bookings.operations.guardians import lock_guardianship
from bookings.operations.invitations import void
from bookings.operations.kept_answers import forget_answers_to
from bookings.operations.locks import lock_students
from bookings.operations.reminders import tell_anew, tell_family_anew
from bookings.operations.rooms import renew_addresses
from bookings.operations.taking_back import take_back_emails
from bookings.queries.barring import (
    emails_about,
    has_another_guardian,
    in_calendar,
)
from bookings.queries.consents import has_consent

LONGEST_REASON = 200
NO_CONSENT = "No guardian’s consent to live lessons is on file."
_FIELDS = ["barred_at", "barred_by", "barred_why"]


def bar_guardian(
    *,
    actor: User,
    guardianship: Guardianship,
    why: str,
    end_bookings: bool = False,
    now: datetime,
) -> Guardianship:
    """Bars a guardian: from now on they read, do and get nothing about the child.

    Emails to them about the child are neither sent nor sent again, no answer is kept for them, and
    each meeting ahead of the child leaves their calendar. Where no other guardian has consented,
    what the child has ahead ends. Where a room makes an address for each meeting, the child's
    meetings get new ones. `why` is for admins alone: it goes with the bar, and is in no audit row.
    Refused: "invalid" without a reason, "already-done", "not-allowed" for oneself, "last-guardian",
    and "has-bookings" where something would end and `end_bookings` is False.
    """
    require_admin(actor)
    why = _reason(why)
    lock_ahead([guardianship.student_id], now=now)
    current = lock_guardianship(guardianship)
    _check_may_be_barred(current, actor, now)
    entries = in_calendar(current, now=now)
    current.barred_at, current.barred_by, current.barred_why = now, actor, why
    current.consent_digest = ""
    current.save(update_fields=[*_FIELDS, "consent_digest"])
    student = current.student
    record(actor=actor, verb="barred guardian", thing=current, fields=_FIELDS, now=now)
    if not has_consent(student, now=now):
        said = NO_CONSENT if end_bookings else None
        end_all_ahead(actor=actor, students=[student.pk], why=said, now=now)
    _cut_off(current, entries, now)
    held = Booking.objects.held().ahead(now).filter(student=student)
    renew_addresses(actor=actor, meetings=held.values_list("meeting", flat=True), now=now)
    return current


def lift_bar(*, actor: User, guardianship: Guardianship, now: datetime) -> Guardianship:
    """Lifts the bar: the guardian answers for the child as before, and a consent counts again.

    Refused: "already-ended" where there is none, "not-allowed" for oneself.
    """
    require_admin(actor)
    lock_students([guardianship.student_id])
    current = lock_guardianship(guardianship)
    if current.barred_at is None:
        raise Refused("already-ended", "They are not barred.")
    _check_is_another(current, actor)
    current.barred_at, current.barred_by, current.barred_why = None, None, ""
    current.save(update_fields=_FIELDS)
    record(actor=actor, verb="lifted bar", thing=current, fields=_FIELDS, now=now)
    tell_family_anew(current.student, now=now)
    outbox.bump_feeds([current.guardian_id], now=now)
    return current


def _cut_off(current: Guardianship, entries: Iterable[Meeting], now: datetime) -> None:
    """Takes back what is on its way to the guardian about the child. `entries` leave their
    calendar, but for meetings in which another child of theirs has a place.
    """
    guardian = current.guardian
    invited = Welcome.objects.usable(now).filter(email=guardian.email, guardian_of=current.student)
    void(invited, now=now)
    forget_answers_to(guardian)
    take_back_emails(current, emails_about(current), out=entries, now=now)
    # Reminders written ahead name every child of theirs in the meeting.
    tell_anew(guardian, [guardian.zone], now=now)
    outbox.bump_feeds([guardian.pk], now=now)


def _reason(why: str) -> str:
    why = why.strip()
    if not why or len(why) > LONGEST_REASON:
        raise Refused(
            "invalid",
            f"Say why, in up to {LONGEST_REASON} characters. Only admins read it.",
            field="why",
        )
    return why


def _check_may_be_barred(current: Guardianship, actor: User, now: datetime) -> None:
    if current.barred_at is not None:
        raise Refused("already-done", "They are barred already.")
    _check_is_another(current, actor)
    # A grown student with an account acts for themselves.
    if is_answered_for(current.student, now) and not has_another_guardian(current):
        raise Refused(
            "last-guardian",
            f"Nobody else answers for {current.student.first_name}. Invite another guardian first.",
        )


def _check_is_another(current: Guardianship, actor: User) -> None:
    if current.guardian_id == actor.pk:
        raise Refused("not-allowed", "Another admin has to decide this: it is about you.")
