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
from bookings.queries.consents import has_consent, wording_in_force


def check_consent(student: Student, *, now: datetime) -> None:
    """Refused("consent-missing") for a minor without it; the refusal sets off one request to their guardians.

    Refused("already-ended") for whoever has left the school.
    """
    joining.check_consent(
        student.pk,
        student.first_name,
        is_here=student.is_active,
        has_consent=not student.is_active or has_consent(student, now=now),
    )


def check_hours(student: Student, meeting: Meeting, policy: StudioPolicy) -> None:
    """Refused("minor-hours") for somebody who is a minor on that day where it is too early or too late for her."""
    if is_child(student, meeting.starts_at):
        check_minor(Period(meeting.starts_at, meeting.ends_at), student.zone, policy.rules())


def ask_for_consent(*, student_id: int, now: datetime) -> bool:
    """One request to each guardian who has not consented, once for each wording; whether any was written."""
    messages, wording = [], wording_in_force(now).version
    silent = Guardianship.objects.filter(
        student=student_id, consent_at__isnull=True, guardian__is_active=True
    )
    waiting = silent.select_for_update(no_key=True, of=("self",))
    for guardianship in waiting.select_related("guardian", "student__user").order_by("pk"):
        # The secret lives in the mailed form's address only: while that form is open its request is not repeated.
        mailed = OutboxMessage.objects.filter(
            kind="consent", subject_key=f"guardianship:{guardianship.pk}"
        )
        if (
            guardianship.consent_digest
            and mailed.filter(state_key=notices.consent_state(guardianship, wording)).exists()
        ):
            continue
        secret = new_secret()
        guardianship.consent_digest = digest(secret)
        guardianship.save(update_fields=["consent_digest"])
        messages += notices.consent_asked(guardianship, wording=wording, secret=secret, now=now)
    outbox.enqueue(messages, now=now)
    return bool(messages)


def request_consent(*, student: Student, now: datetime) -> bool:
    """The guardians are asked because somebody of the family wishes it; whether anything was written.

    Refused("already-done") where lessons may be given already.
    """
    if has_consent(student, now=now):
        raise Refused("already-done", "Nobody has to agree: lessons can be booked.")
    return ask_for_consent(student_id=student.pk, now=now)


def renew_forms(*, guardian: User, now: datetime) -> None:
    """Forms mailed to this guardian open nothing any more; where one was still to be answered, another is mailed."""
    mailed = Guardianship.objects.filter(guardian=guardian).exclude(consent_digest="")
    rows = list(mailed.select_for_update(no_key=True).order_by("pk"))
    for row in rows:
        outbox.withdraw_form(f"guardianship:{row.pk}")
    mailed.update(consent_digest="")
    for row in rows:
        if row.consent_at is None:
            ask_for_consent(student_id=row.student_id, now=now)


def guardianship_by_secret(secret: str) -> Guardianship:
    """The guardianship a mailed consent form is about; "not-found" for any other secret."""
    open_forms = Guardianship.objects.select_related("guardian", "student__user").filter(
        guardian__is_active=True
    )
    found = open_forms.filter(consent_digest=digest(secret)).first()
    if found is None or not secret:
        raise Refused("not-found", "This form is no longer open. Ask the school for a new one.")
    return found


def give_consent(*, secret: str, wording: str, now: datetime) -> Guardianship:
    """The guardian's own act, by the form mailed to them: dated, with the version of the wording they read.

    Refused("stale") where another wording is in force by now.
    """
    # Locked first and read after: the guardian may be removed, or the form closed, in the same instant.
    opened = Guardianship.objects.filter(consent_digest=digest(secret))
    list(opened.select_for_update(no_key=True).values_list("pk"))
    guardianship = guardianship_by_secret(secret)
    return _agreed(guardianship, wording, now=now)


def give_own_consent(
    *, actor: User, guardianship: Guardianship, wording: str, now: datetime
) -> Guardianship:
    """The same act by a guardian who is signed in; a form that is still to be mailed is not needed any more.

    Refused("stale") where another wording is in force by now, "not-allowed" for anybody but that guardian.
    """
    if actor.pk != guardianship.guardian_id:
        raise Refused("not-allowed", "Consent is given by the guardian themselves.")
    rows = Guardianship.objects.filter(pk=guardianship.pk)
    list(rows.select_for_update(no_key=True).values_list("pk"))
    current = rows.select_related("guardian", "student__user").first()
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
    """The school's own words from now on, under a name of their own; consents already given keep the wording they were given with.

    Refused("invalid") where the version is taken or a sentence has a place that nothing fills.
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
