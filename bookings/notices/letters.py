"""Letters about people: a released assessment, a guardian's consent, a welcome."""

from datetime import datetime

from django.conf import settings

from accounts.models import Guardianship, User, Welcome
from bookings.models import Assessment, OutboxMessage
from bookings.notices.people import note_readers
from bookings.notices.rows import row
from bookings.notices.wording import letter, link, short_time
from bookings.outbox import MessageKind

CAUTION = (
    "Stop if it hurts: pain is a reason to rest, not to push on. This is teaching, not medical advice; "
    "ask a clinician about lasting pain, numbness or ringing in the ears."
)


def assessment_released(assessment: Assessment, *, now: datetime) -> list[OutboxMessage]:
    """Says that a new assessment with a next step is there. Not a word of it: a note is read behind the sign-in only."""
    messages = []
    for reader in note_readers(assessment.student, now=now):
        hers = "you" if assessment.student.user_id == reader.pk else assessment.student.first_name
        there = f"There is a new assessment for {hers}, with a next step. Read it here: {link(f'/assessments/{assessment.pk}/')}"
        messages.append(
            row(
                reader,
                MessageKind.ASSESSMENT,
                f"assessment:{assessment.lineage}",
                f"version:{assessment.version}",
                title="A new assessment is ready",
                body=letter(reader.name, [there, CAUTION]),
                now=now,
            )
        )
    return messages


def consent_state(guardianship: Guardianship, wording: str) -> str:
    """The state that one request tells: the wording, and the form it opens, since a form closed by withdrawing stays closed."""
    return f"{wording}:{guardianship.consent_digest[:16]}"


def consent_asked(
    guardianship: Guardianship, *, wording: str, secret: str, now: datetime
) -> list[OutboxMessage]:
    """Asks a guardian for consent to live lessons, once for each version of the wording."""
    child = guardianship.student.first_name
    asked = f"Before {child} can have a live lesson we need your consent as a parent or guardian of {child}. Until then no place is held."
    form = f"Read what you are asked to agree to, and answer here: {link(f'/consent/{secret}/')}"
    return [
        row(
            guardianship.guardian,
            MessageKind.CONSENT,
            f"guardianship:{guardianship.pk}",
            consent_state(guardianship, wording),
            title="Your consent to live lessons",
            body=letter(
                guardianship.guardian.name,
                [asked, form, "Please do not share this link: it is yours alone."],
            ),
            now=now,
        )
    ]


def welcome_letter(
    welcome: Welcome, *, secret: str, inviter: User, now: datetime
) -> list[OutboxMessage]:
    """The letter to somebody without an account yet; its row belongs to the admin who invites."""
    asked = f"{inviter.name} invites you to {settings.SCHOOL_NAME}. Choose a password here: {link(f'/welcome/{secret}/')}"
    until = f"The link is yours alone. It works once, until {short_time(welcome.good_until, inviter.zone)}."
    return [
        row(
            inviter,
            MessageKind.WELCOME,
            f"welcome:{welcome.pk}",
            "sent",
            title=f"Welcome to {settings.SCHOOL_NAME}",
            body=letter(welcome.name, [asked, until], changes=""),  # she cannot sign in yet
            now=now,
            to_address=welcome.email,
            good_until=welcome.good_until,
        )
    ]
