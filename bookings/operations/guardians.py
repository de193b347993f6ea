"""Guardians: an admin removes one, or one withdraws their consent."""

from datetime import datetime

from accounts.models import Guardianship, User, Welcome
from bookings import notices, outbox
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.operations.audit import record
from bookings.operations.commitments import end_all_ahead, lock_ahead
from bookings.operations.invitations import void
from bookings.operations.reminders import tell_anew
from bookings.operations.taking_back import take_back_emails
from bookings.queries.barring import unsent_about
from bookings.queries.commitments import Ahead
from bookings.queries.consents import has_consent
from bookings.queries.guardians import left_alone

CONSENT_GONE = "The consent to live lessons has been withdrawn."


def remove_guardian(
    *, actor: User, guardianship: Guardianship, why: str | None = None, now: datetime
) -> Ahead:
    """Removes a guardian from a child, at once and in their calendars too. Returns what ended.

    Unsent emails to them about the child go, but for what takes an entry out of their calendar.
    Their open consent form and invitation become void. Where no other guardian has consented, what
    the child has ahead ends, with the sentence `why` for everybody concerned; Refused
    ("has-bookings") where it is None, "not-allowed" for a barred guardian, whose bar would be
    forgotten.
    """
    require_admin(actor)
    student, guardian = guardianship.student, guardianship.guardian
    lock_ahead([student.pk], now=now)
    current = lock_guardianship(guardianship)
    if current.barred_at is not None:
        raise Refused("not-allowed", "They are barred, and this record keeps it so.")
    take_back_emails(current, unsent_about(current), now=now)
    alone = [one.pk for one in left_alone([student], without=guardian, now=now)]
    # First of all: without this guardian nobody of the family may be left to tell.
    ended = end_all_ahead(actor=actor, students=alone, why=why, now=now)
    outbox.enqueue(notices.guardian_removed(current, now=now), now=now)
    outbox.withdraw_form(f"guardianship:{current.pk}")
    # Otherwise an open invitation would make them a guardian again.
    invited = Welcome.objects.usable(now).filter(email=guardian.email, guardian_of=student)
    void(invited, now=now)
    record(actor=actor, verb="removed guardian", thing=student, fields=["guardians"], now=now)
    record(actor=actor, verb="made no guardian", thing=guardian, fields=["children"], now=now)
    current.delete()
    # Reminders written ahead name every child of theirs in the meeting.
    tell_anew(guardian, [guardian.zone], now=now)
    outbox.bump_feeds([guardian.pk], now=now)
    return ended


def withdraw_consent(
    *, actor: User, guardianship: Guardianship, end_bookings: bool = False, now: datetime
) -> Guardianship:
    """Withdraws the actor's own consent and tells every guardian of the child.

    Where no other guardian has consented, what the child has ahead ends. Refused: "not-allowed" to
    anybody else, "already-ended" without a consent, "has-bookings" where something would end and
    `end_bookings` is False.
    """
    if actor.pk != guardianship.guardian_id:
        raise Refused("not-allowed", "Only the guardian who gave a consent can withdraw it.")
    lock_ahead([guardianship.student_id], now=now)
    current = lock_guardianship(guardianship)
    if current.barred_at is not None or current.consent_at is None:
        raise Refused("already-ended", "No consent of yours is on file.")
    current.consent_at, current.consent_wording, current.consent_digest = None, "", ""
    current.save(update_fields=["consent_at", "consent_wording", "consent_digest"])
    record(actor=actor, verb="withdrew consent", thing=current, fields=["consent_at"], now=now)
    is_missing = not has_consent(current.student, now=now)
    if is_missing:
        why = CONSENT_GONE if end_bookings else None
        end_all_ahead(actor=actor, students=[current.student_id], why=why, now=now)
    outbox.enqueue(notices.consent_withdrawn(current, is_missing=is_missing, now=now), now=now)
    return current


def lock_guardianship(guardianship: Guardianship) -> Guardianship:
    """The guardianship, locked and then read. Refused("already-ended") where it was removed."""
    rows = Guardianship.objects.filter(pk=guardianship.pk)
    list(rows.select_for_update(no_key=True).values_list("pk"))
    current = rows.select_related("guardian", "student__user").first()
    if current is None:
        raise Refused("already-ended", "This person is no longer a guardian of the student.")
    return current
