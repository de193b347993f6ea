"""A minor's lessons need a guardian's consent, and keep to a minor's hours."""

from datetime import datetime

from django.conf import settings

from accounts.models import Guardianship, Student, User, digest, new_secret
from bookings import notices, outbox
from bookings.access import require_admin
from bookings.domain import joining
from bookings.domain.consent import sentences_of
from bookings.domain.errors import Refused
from bookings.domain.families import is_child
from bookings.domain.policy import check_minor
from bookings.domain.timeline import Period
from bookings.models import ConsentText, Meeting, OutboxMessage, StudioPolicy
from bookings.operations.audit import record
from bookings.outbox import MessageKind
from bookings.queries.consents import has_consent, wording_in_force


def require_consent(student: Student, *, now: datetime) -> None:
    """Refuses with "consent-missing", or "already-ended" for a student who has left the school.

    After "consent-missing" the door asks the guardians for their consent.
    """
    joining.check_consent(
        student.pk,
        student.first_name,
        is_here=student.is_active,
        has_consent=not student.is_active or has_consent(student, now=now),
    )


def check_minor_hours(student: Student, meeting: Meeting, policy: StudioPolicy) -> None:
    """Refused("minor-hours") where a minor's meeting is too early or too late in the day."""
    if is_child(student, meeting.starts_at):
        check_minor(Period(meeting.starts_at, meeting.ends_at), student.zone, policy.rules())


def ask_for_consent(*, student_id: int, now: datetime) -> bool:
    """Asks each guardian who has not consented, once for each wording; returns whether any was."""
    messages, wording = [], wording_in_force(now).version
    answering = Guardianship.objects.answering()
    silent = answering.filter(student=student_id, consent_at__isnull=True)
    locked = silent.select_for_update(no_key=True, of=("self",))
    for guardianship in locked.select_related("guardian", "student__user").order_by("pk"):
        if _is_asked(guardianship, wording):
            continue
        secret = new_secret()
        guardianship.consent_digest = digest(secret)
        guardianship.save(update_fields=["consent_digest"])
        messages += notices.consent_asked(guardianship, wording=wording, secret=secret, now=now)
    outbox.enqueue(messages, now=now)
    return bool(messages)


def _is_asked(guardianship: Guardianship, wording: str) -> bool:
    """Whether a form for this wording has been sent and still works.

    Only the email holds the form's secret, so a new request would close the form that was sent.
    """
    if not guardianship.consent_digest:
        return False
    sent = OutboxMessage.objects.filter(
        kind=MessageKind.CONSENT, subject_key=f"guardianship:{guardianship.pk}"
    )
    return sent.filter(state_key=notices.consent_state(guardianship, wording)).exists()


def request_consent(*, student: Student, now: datetime) -> bool:
    """Asks the guardians because somebody of the family wishes it; whether anything was written.

    Refused("already-done") where lessons may be given already.
    """
    if has_consent(student, now=now):
        raise Refused("already-done", "Nobody has to agree: lessons can be booked.")
    return ask_for_consent(student_id=student.pk, now=now)


def renew_forms(*, guardian: User, now: datetime) -> None:
    """Closes the forms that were sent to this guardian, and sends new ones for open questions."""
    mailed = Guardianship.objects.filter(guardian=guardian).exclude(consent_digest="")
    rows = list(mailed.select_for_update(no_key=True).order_by("pk"))
    for row in rows:
        outbox.withdraw_form(f"guardianship:{row.pk}")
    mailed.update(consent_digest="")
    for row in rows:
        if row.consent_at is None:
            ask_for_consent(student_id=row.student_id, now=now)


def guardianship_by_secret(secret: str) -> Guardianship:
    """The guardianship of a consent form that still works. Refused("not-found")."""
    open_forms = Guardianship.objects.answering().select_related("guardian", "student__user")
    found = open_forms.filter(consent_digest=digest(secret)).first()
    if found is None or not secret:
        raise Refused("not-found", "This form is no longer open. Ask the school for a new one.")
    return found


def give_consent(*, secret: str, wording: str, now: datetime) -> Guardianship:
    """Records the consent of the guardian who has this form, with the wording that they read.

    Refused: "not-found", "stale" where another wording is in force by now.
    """
    # Locked first and then read: meanwhile the guardian may be removed or the form closed.
    opened = Guardianship.objects.filter(consent_digest=digest(secret))
    list(opened.select_for_update(no_key=True).values_list("pk"))
    guardianship = guardianship_by_secret(secret)
    return _agreed(guardianship, wording, now=now)


def give_own_consent(
    *, actor: User, guardianship: Guardianship, wording: str, now: datetime
) -> Guardianship:
    """Stores the consent of a guardian who is signed in, and withdraws a form still to be sent.

    Refused: "stale" where another wording is in force by now, "not-allowed" for anybody but that
    guardian.
    """
    if actor.pk != guardianship.guardian_id:
        raise Refused("not-allowed", "Consent is given by the guardian themselves.")
    rows = Guardianship.objects.filter(pk=guardianship.pk)
    list(rows.select_for_update(no_key=True).values_list("pk"))
    current = rows.answering().select_related("guardian", "student__user").first()
    if current is None:
        raise Refused("already-ended", "You are no longer a guardian of this student.")
    outbox.withdraw_form(f"guardianship:{current.pk}")
    return _agreed(current, wording, now=now)


def _agreed(guardianship: Guardianship, wording: str, *, now: datetime) -> Guardianship:
    """Writes down the consent once, with its date and the version that was read."""
    if guardianship.consent_at is not None:
        return guardianship
    if wording != wording_in_force(now).version:
        raise Refused("stale", "The wording has changed since you opened this page. Read it again.")
    guardianship.consent_at, guardianship.consent_wording = now, wording
    guardianship.save(update_fields=["consent_at", "consent_wording"])
    record(
        actor=guardianship.guardian,
        verb="consented",
        thing=guardianship,
        fields=["consent_at", "consent_wording"],
        now=now,
    )
    return guardianship


def publish_wording(*, actor: User, version: str, text: str, now: datetime) -> ConsentText:
    """Puts a new wording in force. Consents given before stay, with the wording of their time.

    Refused("invalid") where the version is taken or a sentence has an unknown field.
    """
    require_admin(actor)
    version = version.strip()
    taken = ConsentText.objects.filter(version=version).exists()
    if not version or len(version) > 20 or taken or version == settings.CONSENT_WORDING:
        raise Refused(
            "invalid",
            "Choose a version that no other wording has, such as 2027-03.",
            field="version",
        )
    sentences = "\n".join(sentences_of(text))
    published = ConsentText.objects.create(version=version, text=sentences, published_at=now)
    record(actor=actor, verb="published wording", thing=published, fields=["text"], now=now)
    return published
