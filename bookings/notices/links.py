"""Emails with a link: to a released note, a consent form or an invitation."""

from collections.abc import Sequence
from datetime import datetime
from urllib.parse import urlencode

from django.conf import settings

from accounts.models import Guardianship, User, Welcome
from bookings.domain.notes import FOLLOW_UPS
from bookings.domain.timeline import rfc3339
from bookings.domain.vocabulary import NoteForm
from bookings.models import Assessment, OutboxMessage
from bookings.notices.people import note_readers
from bookings.notices.rows import row
from bookings.notices.wording import email_text, link, short_time
from bookings.outbox import MessageKind

CAUTION = (
    "Stop if it hurts: pain is a reason to rest, not to push on. "
    "This is teaching, not medical advice; "
    "ask a clinician about lasting pain, numbness or ringing in the ears."
)


def assessment_released(
    note: Assessment, *, starts: Sequence[datetime] | None = None, now: datetime
) -> list[OutboxMessage]:
    """A link to a new note. The email has no word of it: a note is read after signing in.

    `starts` can be booked for its follow-up; None where no follow-up is to be told. The caution
    stands in every such email, so that it says nothing of the student.
    """
    student, page = note.student, link(f"/assessments/{note.pk}/")
    kind = "lesson note" if note.form == NoteForm.LESSON_NOTE else "assessment"
    history = link(f"/students/{student.pk}/notes/")
    practice = link(f"/practice/?student={student.pk}")
    messages = []
    for reader in note_readers(student, now=now):
        whom = "you" if student.user_id == reader.pk else student.first_name
        there = f"There is a new {kind} for {whom}."
        read = f"Read the {kind}: {page}"
        plan = f"The practice plan: {practice}" if note.practice else ""
        whole = f"All notes so far: {history}"
        again = "" if starts is None else _follow_up(note, reader, starts)
        messages.append(
            row(
                reader,
                MessageKind.ASSESSMENT,
                f"assessment:{note.lineage}",
                f"version:{note.version}",
                title=f"A new {kind} is ready",
                body=email_text(reader.name, [there, read, plan, whole, again, CAUTION]),
                now=now,
            )
        )
    return messages


def _follow_up(note: Assessment, reader: User, starts: Sequence[datetime]) -> str:
    """When the instructor suggests to meet again, and starts that can be booked by a link."""
    student = note.student
    whose = "Your" if student.user_id == reader.pk else f"{student.first_name}’s"
    weeks = FOLLOW_UPS[note.follow_up_weeks or 0]
    said = f"{whose} instructor suggests meeting again in {weeks} weeks."
    if not starts or note.meeting is None:
        return f"{said}\nChoose a time: {link(f'/times/?student={student.pk}')}"
    asked = {
        "offering": note.meeting.offering_id,
        "instructor": note.author_id,
        "student": student.pk,
    }
    lines = [
        f"  {short_time(at, reader.zone)}: "
        + link(f"/times/book/?{urlencode({**asked, 'starts_at': rfc3339(at)})}")
        for at in starts
    ]
    return "\n".join([f"{said} These times are free now. Open one to book it:", *lines])


def consent_state(guardianship: Guardianship, wording: str) -> str:
    """The state key of a request: the wording and the form.

    A form that was closed stays closed, so a new form needs a new request.
    """
    return f"{wording}:{guardianship.consent_digest[:16]}"


def consent_asked(
    guardianship: Guardianship, *, wording: str, secret: str, now: datetime
) -> list[OutboxMessage]:
    """Asks a guardian for their consent to live lessons."""
    child = guardianship.student.first_name
    asked = (
        f"Before {child} can have a live lesson we need your consent "
        f"as a parent or guardian of {child}. Until then no place is held."
    )
    form = f"Read what you are asked, and answer: {link(f'/consent/{secret}/')}"
    return [
        row(
            guardianship.guardian,
            MessageKind.CONSENT,
            f"guardianship:{guardianship.pk}",
            consent_state(guardianship, wording),
            title="Your consent to live lessons",
            body=email_text(
                guardianship.guardian.name,
                [asked, form, "Please do not share this link: it is yours alone."],
            ),
            now=now,
        )
    ]


def welcome_email(
    welcome: Welcome, *, secret: str, inviter: User, now: datetime
) -> list[OutboxMessage]:
    """The invitation of somebody who has no account yet.

    The row's recipient is the admin who invites, because a recipient is a user.
    """
    page = link(f"/welcome/{secret}/")
    asked = f"{inviter.name} invites you to {settings.SCHOOL_NAME}."
    join = f"Choose a password: {page}"
    last = short_time(welcome.good_until, inviter.zone)
    until = f"The link is yours alone. It works once, until {last}."
    return [
        row(
            inviter,
            MessageKind.WELCOME,
            f"welcome:{welcome.pk}",
            "sent",
            title=f"Welcome to {settings.SCHOOL_NAME}",
            body=email_text(
                welcome.name, [asked, join, until], changes=""
            ),  # they cannot sign in yet
            now=now,
            to_address=welcome.email,
            good_until=welcome.good_until,
        )
    ]
