"""Emails about a person's own data: an erasure or an access export is asked, approved, taken back.

None of them says why, or holds any of the data.
"""

from datetime import datetime

from django.conf import settings

from accounts.models import Student, User
from bookings.domain.vocabulary import PrivacyKind
from bookings.models import OutboxMessage, PrivacyRequest
from bookings.notices.people import note_readers
from bookings.notices.rows import row
from bookings.notices.wording import email_text, full_time, link
from bookings.outbox import MessageKind


def privacy_request(
    request: PrivacyRequest, student: Student, event: str, *, erased_on: datetime, now: datetime
) -> list[OutboxMessage]:
    """One email to each of the family; `event` is "asked", "approved" or "taken-back".

    News of an access export goes to whoever asked for it, too.
    """
    readers = note_readers(student, now=now)
    asker = request.asked_by
    is_access = request.kind == PrivacyKind.ACCESS
    if is_access and asker is not None and asker not in readers:
        readers = [*readers, asker]
    messages = []
    for reader in readers:
        if is_access:
            title, said = _access(student, event, reader)
        else:
            title, said = _erasure(student, event, reader, erased_on)
        messages.append(
            row(
                reader,
                MessageKind.ACCOUNT,
                f"privacy:{request.pk}",
                f"{event}:{now:%Y%m%dT%H%M%S%f}",
                title=title,
                body=email_text(reader.name, said, changes=""),
                now=now,
            )
        )
    return messages


def _whose(student: Student, reader: User) -> str:
    """ "your", "Posy’s"."""
    return "your" if student.user_id == reader.pk else f"{student.first_name}’s"


def _page(student: Student, reader: User) -> str:
    """Where the reader finds the data: a family on Me, an admin on the student's own page."""
    return link(f"/students/{student.pk}/data/" if reader.is_staff else "/me/")


def _erasure(
    student: Student, event: str, reader: User, erased_on: datetime
) -> tuple[str, list[str]]:
    data = f"{_whose(student, reader)} data"
    if event == "taken-back":
        return (
            f"The request to erase {data} has been taken back",
            [
                f"{settings.SCHOOL_NAME} will not erase {data}. "
                "Lessons that were cancelled stay cancelled; new ones can be booked."
            ],
        )
    until = full_time(erased_on, reader.zone)
    undo = f"To take the request back until then: {_page(student, reader)}"
    if event == "approved":
        return (
            f"{_whose(student, reader).capitalize()} data will be erased",
            [
                f"{settings.SCHOOL_NAME} will erase {data} after {until}. "
                "Nobody can undo it then. You get no further email about it.",
                undo,
            ],
        )
    return (
        f"Request to erase {data}",
        [
            f"Somebody of the family or of the school has asked {settings.SCHOOL_NAME} "
            f"to erase {data}. Everything that was booked ahead is cancelled.",
            f"Once an admin has approved it, the data is erased after {until}.",
            undo,
        ],
    )


def _access(student: Student, event: str, reader: User) -> tuple[str, list[str]]:
    data = f"{_whose(student, reader)} data"
    if event == "approved":
        return (
            f"The access export of {data} is ready",
            [
                f"{settings.SCHOOL_NAME} has approved the access export of {data}. "
                "Whoever asked for it can download it within 14 days.",
                f"Download the data: {_page(student, reader)}",
            ],
        )
    if event == "taken-back":
        return (
            f"The request for an access export of {data} has been taken back",
            [f"There will be no access export of {data}."],
        )
    whom = "you" if student.user_id == reader.pk else student.first_name
    return (
        f"Request for an access export of {data}",
        [
            f"Somebody of the family or of the school has asked {settings.SCHOOL_NAME} "
            f"for everything that is stored about {whom}. "
            "An admin looks at it first.",
        ],
    )
