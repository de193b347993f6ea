"""The follow-up: what an instructor has still to finish. It has no word of an assessment."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from accounts.models import User
from bookings.domain.vocabulary import NoteState
from bookings.models import Booking, Meeting, OutboxMessage
from bookings.notices.people import as_taught
from bookings.notices.rows import named, row
from bookings.notices.wording import TEACHING, email_text, link, listed, short_time
from bookings.outbox import MessageKind

OF_USE = timedelta(days=2)


@dataclass(frozen=True, slots=True)
class Unfinished:
    """A meeting with places that are not marked, and with bookings without a released assessment.

    Each of the latter has the state of the assessment; None where there is none.
    """

    meeting: Meeting
    unmarked: Sequence[Booking]
    unwritten: Sequence[tuple[Booking, NoteState | None]]


def subject_of(day: date) -> str:
    """The subject key of the one email about a day."""
    return f"day:{day.isoformat()}"


def to_finish(
    instructor: User, day: date, unfinished: Sequence[Unfinished], *, now: datetime
) -> list[OutboxMessage]:
    """One email about the meetings of a day with something open; none without any."""
    if not unfinished:
        return []
    opening = f"Something is still open from {day:%A} {day.day} {day:%B}:"
    what = [_open(one, instructor, now) for one in unfinished]
    body = email_text(instructor.name, [opening, *what], changes=TEACHING)
    title = f"Still open from {day:%A} {day.day} {day:%B}"
    return [
        row(
            instructor,
            MessageKind.FOLLOW_UP,
            subject_of(day),
            "open",
            title=title,
            body=body,
            now=now,
            good_until=now + OF_USE,
        )
    ]


def _open(one: Unfinished, instructor: User, now: datetime) -> str:
    meeting = one.meeting
    lines = [f"  {named(meeting, instructor)}, {short_time(meeting.starts_at, instructor.zone)}"]
    if one.unmarked:
        page = link(f"/meetings/{meeting.pk}/")
        lines.append(f"  Mark the register for {_people(one.unmarked, now)}: {page}")
    for booking, state in one.unwritten:
        do = "Release the assessment of" if state == NoteState.DRAFT else "Write the assessment of"
        lines.append(f"  {do} {_people([booking], now)}: {link(f'/brief/{booking.pk}/')}")
    return "\n".join(lines)


def _people(bookings: Sequence[Booking], now: datetime) -> str:
    return listed([as_taught(booking.student, now).partition(",")[0] for booking in bookings])
