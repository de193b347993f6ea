"""A minor's lessons need a guardian's consent, and keep to a minor's hours."""

from datetime import datetime

from accounts.models import Guardianship, Student, digest, new_secret
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.policy import check_minor, is_minor
from bookings.domain.timeline import Period
from bookings.domain.zones import zone
from bookings.models import Meeting, OutboxMessage, StudioPolicy
from bookings.operations.audit import record


def has_consent(student: Student, *, now: datetime) -> bool:
    """Whether live lessons may be given: an adult, or a minor one of whose guardians, with an account still open, has consented."""
    if not is_minor(student.adult_on, now.astimezone(zone(student.zone)).date()):
        return True
    return Guardianship.objects.filter(
        student=student, consent_at__isnull=False, guardian__is_active=True
    ).exists()


def check_consent(student: Student, *, now: datetime) -> None:
    """Refused("consent-missing") for a minor without it; the refusal sets off one request to their guardians.

    Refused("already-ended") for whoever has left the school.
    """
    if not student.is_active:
        raise Refused(
            "already-ended",
            f"{student.first_name} has left the school, so nothing can be booked for them.",
        )
    if not has_consent(student, now=now):
        raise Refused(
            "consent-missing",
            f"{student.first_name} is under age and no guardian's consent is on file. "
            "We have written to the guardian; book once it is given.",
            student=student.pk,
        )


def check_hours(student: Student, meeting: Meeting, policy: StudioPolicy) -> None:
    """Refused("minor-hours") for somebody who is a minor on that day where it is too early or too late for her."""
    if is_minor(student.adult_on, meeting.starts_at.astimezone(zone(student.zone)).date()):
        check_minor(Period(meeting.starts_at, meeting.ends_at), student.zone, policy.rules())


def ask_for_consent(*, student_id: int, now: datetime) -> bool:
    """One request to each guardian who has not consented, once for each wording; whether any was written."""
    messages = []
    silent = Guardianship.objects.filter(
        student=student_id, consent_at__isnull=True, guardian__is_active=True
    )
    waiting = silent.select_for_update(no_key=True, of=("self",))
    for guardianship in waiting.select_related("guardian", "student").order_by("pk"):
        # The secret lives in the mailed form's address only: while that form is open its request is not repeated.
        mailed = OutboxMessage.objects.filter(
            kind="consent", subject_key=f"guardianship:{guardianship.pk}"
        )
        if (
            guardianship.consent_digest
            and mailed.filter(state_key=notices.consent_state(guardianship)).exists()
        ):
            continue
        secret = new_secret()
        guardianship.consent_digest = digest(secret)
        guardianship.save(update_fields=["consent_digest"])
        messages += notices.consent_asked(guardianship, secret=secret, now=now)
    outbox.enqueue(messages, now=now)
    return bool(messages)


def guardianship_by_secret(secret: str) -> Guardianship:
    """The guardianship a mailed consent form is about; "not-found" for any other secret."""
    open_forms = Guardianship.objects.select_related("guardian", "student").filter(
        guardian__is_active=True
    )
    found = open_forms.filter(consent_digest=digest(secret)).first()
    if found is None or not secret:
        raise Refused("not-found", "This form is no longer open. Ask the school for a new one.")
    return found


def give_consent(*, secret: str, wording: str, now: datetime) -> Guardianship:
    """The guardian's own act, by the form mailed to her: dated, with the version of the wording she agreed to."""
    guardianship = guardianship_by_secret(secret)
    if guardianship.consent_at is None:
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
