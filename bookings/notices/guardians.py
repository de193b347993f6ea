"""Emails to guardians: one is removed, or one withdraws their consent."""

from datetime import datetime

from django.conf import settings

from accounts.models import Guardianship
from bookings.models import OutboxMessage
from bookings.notices.rows import row
from bookings.notices.wording import email_text
from bookings.outbox import MessageKind


def guardian_removed(guardianship: Guardianship, *, now: datetime) -> list[OutboxMessage]:
    """An email to the person who was a guardian: what they no longer see."""
    child = guardianship.student.first_name
    said = (
        f"{settings.SCHOOL_NAME} no longer lists you as a guardian of {child}. "
        f"You no longer see {child}’s lessons, here or in your calendar addresses, "
        "and you get no more emails about them."
    )
    stale = (
        f"Invitations to {child}’s lessons may still be in your own calendar. "
        "Please delete them there."
    )
    title = f"You are no longer a guardian of {child}"
    return [_row(guardianship, guardianship, "removed", title, [said, stale], now)]


def consent_withdrawn(
    guardianship: Guardianship, *, is_missing: bool, now: datetime
) -> list[OutboxMessage]:
    """An email to every guardian of the child, also to the one who has withdrawn.

    `is_missing` says that no other consent is on file.
    """
    child, who = guardianship.student.first_name, guardianship.guardian
    title = f"Consent to live lessons for {child} has been withdrawn"
    rows = Guardianship.objects.answering().filter(student=guardianship.student)
    messages = []
    for other in rows.select_related("guardian").order_by("guardian_id"):
        they = "You have" if other.guardian == who else f"{who.name} has"
        said = (
            f"{they} withdrawn the consent to live lessons for {child} at {settings.SCHOOL_NAME}."
        )
        after = (
            f"No guardian’s consent is on file now, so {child}’s upcoming lessons are cancelled "
            "and nothing can be booked. You can give consent again on the page Me."
            if is_missing
            else f"Another guardian’s consent is on file, so {child}’s lessons go on."
        )
        messages.append(_row(other, guardianship, "withdrawn", title, [said, after], now))
    return messages


def _row(
    reader: Guardianship,
    about: Guardianship,
    state: str,
    title: str,
    said: list[str],
    now: datetime,
) -> OutboxMessage:
    return row(
        reader.guardian,
        MessageKind.ACCOUNT,
        f"guardianship:{about.pk}",
        f"{state}:{now:%Y%m%dT%H%M%S%f}",
        title=title,
        body=email_text(reader.guardian.name, said, changes=""),
        now=now,
    )
