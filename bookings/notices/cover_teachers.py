"""Emails to the instructors of covered lessons: what each of them takes, and what they give up."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from accounts.models import Instructor, User
from bookings.models import Booking, OutboxMessage
from bookings.notices.people import as_taught
from bookings.notices.places import heading, to_instructor
from bookings.notices.rows import MeetingPost, named
from bookings.notices.wording import TEACHING, email_text, short_time

Calendars = set[tuple[int, int]]
"""(meeting, reader), by id, of lessons that stand in a calendar."""
FAMILY_MAY = "The family may decline it free of charge until it begins. You would get an email."


@dataclass(slots=True)
class _Changes:
    takes: list[Booking] = field(default_factory=list)
    gives: list[Booking] = field(default_factory=list)


def to_teachers(
    before: Mapping[Booking, Instructor],
    readers: Mapping[User, list[Booking]],
    calendars: Calendars,
    now: datetime,
    *,
    told_already: User | None = None,
) -> list[OutboxMessage]:
    """One email to each instructor about all their lessons that have changed hands.

    `before` are the lessons by start, each with who had it. `readers` are the families; an
    instructor of the family is told of its lesson there. `told_already` is an instructor who reads
    of what they give up elsewhere.
    """
    changes: dict[User, _Changes] = {}
    for booking, giver in before.items():
        taker = booking.meeting.instructor.user
        if booking not in readers.get(taker, ()):
            changes.setdefault(taker, _Changes()).takes.append(booking)
        if giver.user != told_already and booking not in readers.get(giver.user, ()):
            changes.setdefault(giver.user, _Changes()).gives.append(booking)
    messages: list[OutboxMessage] = []
    for reader, theirs in changes.items():
        if len(theirs.takes) + len(theirs.gives) == 1:
            messages += [_takes(booking, reader, now) for booking in theirs.takes]
            messages += [gives_up(booking, reader, now) for booking in theirs.gives]
        else:
            messages.append(_several(theirs, reader, now))
            messages += [_takes(booking, reader, now) for booking in theirs.takes]
            messages += [
                gives_up(booking, reader, now)
                for booking in theirs.gives
                if (booking.meeting_id, reader.pk) in calendars
            ]
    return messages


def _several(theirs: _Changes, reader: User, now: datetime) -> OutboxMessage:
    told = []
    if theirs.takes:
        lines = [teaching_line(booking, reader, now) for booking in theirs.takes]
        told += ["You teach these lessons as a substitute:\n" + "\n".join(lines)]
        told += ["A family may decline its lesson free of charge until it begins."]
    if theirs.gives:
        lines = [to_whom(booking, reader, now) for booking in theirs.gives]
        told += ["Other instructors teach these lessons of yours:\n" + "\n".join(lines)]
    told.append("One more email for each lesson brings your calendar up to date.")
    first = [*theirs.takes, *theirs.gives][0].meeting
    return MeetingPost(first, [reader], now).tell(
        reader,
        f"covered-teaching:{first.sequence}",
        "Lessons that have changed hands",
        email_text(reader.name, told, changes=TEACHING),
    )


def _takes(booking: Booking, reader: User, now: datetime) -> OutboxMessage:
    meeting = booking.meeting
    who = as_taught(booking.student, now)
    told = f"You teach {who}, as a substitute: {named(meeting, reader)}."
    body = to_instructor(booking, reader, told, FAMILY_MAY)
    post = MeetingPost(meeting, [reader], now)
    return post.invite(reader, heading("Substitute", meeting, reader), body)


def gives_up(booking: Booking, reader: User, now: datetime) -> OutboxMessage:
    """Ends the lesson in the calendar of whoever taught it before."""
    meeting, starts = booking.meeting, short_time(booking.starts_at, reader.zone)
    who = as_taught(booking.student, now)
    gone = f"On {starts}, {meeting.instructor} teaches {who}, instead of you."
    return MeetingPost(meeting, [reader], now).cancel(
        reader,
        f"Covered: {meeting.offering.name}, {starts}",
        email_text(reader.name, [gone], changes=TEACHING),
        whole=False,
        state_key=f"booking:{booking.pk}:covered:{meeting.sequence}",
    )


def teaching_line(booking: Booking, reader: User, now: datetime) -> str:
    """ "  Fri 12 March 13:00, Dublin: Kit, level 3, Consultation", for an instructor."""
    what = booking.meeting.offering.name
    starts = short_time(booking.starts_at, reader.zone)
    return f"  {starts}: {as_taught(booking.student, now)}, {what}"


def to_whom(booking: Booking, reader: User, now: datetime) -> str:
    """The line of a lesson, and who teaches it now."""
    return f"{teaching_line(booking, reader, now)}, with {booking.meeting.instructor}"
