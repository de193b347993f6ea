"""The email to a reader whose own zone has new rules: their meetings, each with its old hour."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from accounts.models import User
from bookings.domain.vocabulary import Standing
from bookings.domain.zones import TZDATA_VERSION, place, zone
from bookings.models import Booking, Meeting, OutboxMessage
from bookings.notices.people import names
from bookings.notices.rows import named, row
from bookings.notices.wording import CHANGES, TEACHING, email_text, listed, short_local, short_time
from bookings.outbox import MessageKind


@dataclass(frozen=True, slots=True)
class SameMeeting:
    """A meeting that stays, and the bookings of the reader's students; none where they teach it.

    `was` is its start as the reader's clock showed it before, without a zone.
    """

    meeting: Meeting
    was: datetime
    bookings: Sequence[Booking]


@dataclass(frozen=True, slots=True)
class OwnClock:
    """A reader, and the meetings that have another hour in their zone now, by start."""

    reader: User
    meetings: Sequence[SameMeeting]


def own_clock_key() -> str:
    """The subject key of the one email to a reader about the installed rules of their zone."""
    return f"zone-rules:{TZDATA_VERSION}"


def own_clock_changed(changed: OwnClock, *, now: datetime) -> list[OutboxMessage]:
    """One email. It has no calendar part, because the instants have not changed."""
    reader, meetings = changed.reader, changed.meetings
    here = place(reader.zone)
    several = len(meetings) > 1
    stay = (
        "these meetings stay at the same time" if several else "this meeting stays at the same time"
    )
    are = "they are" if several else "it is"
    told = (
        f"{here}’s time-zone rules have changed. "
        f"For everybody else {stay}; on your clock {are} now at another time:"
    )
    lines = "\n".join(_line(same, reader) for same in meetings)
    older = (
        "If your phone or calendar still shows the old time, its clock rules are older than ours."
    )
    changes = CHANGES if any(same.bookings for same in meetings) else TEACHING
    more = f", and {len(meetings) - 1} more" if several else ""
    title = f"New clock rules in {here}: {_first(meetings[0], reader)}{more}"
    body = email_text(reader.name, [told, lines, older], changes=changes)
    meeting = meetings[0].meeting  # with a meeting, the message revises the reader's feeds
    return [
        row(
            reader,
            MessageKind.TOLD,
            own_clock_key(),
            reader.zone,
            title=title,
            body=body,
            now=now,
            meeting=meeting,
        )
    ]


def _first(same: SameMeeting, reader: User) -> str:
    return f"{named(same.meeting, reader)}, {short_time(same.meeting.starts_at, reader.zone)}"


def _line(same: SameMeeting, reader: User) -> str:
    """ "  Kit: Harp lesson with I. Quarrow, Wed 18 November 10:00, Vancouver (before: 09:00)"."""
    people = names(reader, same.bookings)
    who = "" if people in ([], ["you"]) else f"{listed(people)}: "
    offered = (
        ", offered"
        if any(booking.standing == Standing.OFFERED for booking in same.bookings)
        else ""
    )
    is_same_day = same.was.date() == same.meeting.starts_at.astimezone(zone(reader.zone)).date()
    before = f"{same.was:%H:%M}" if is_same_day else short_local(same.was)
    return f"  {who}{_first(same, reader)}{offered} (before: {before})"
