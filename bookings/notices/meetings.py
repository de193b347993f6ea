"""Emails about a whole meeting: made, changed or called off.

Each reader gets one, however many of their students are in it.
"""

from collections.abc import Iterable
from datetime import datetime

from accounts.models import User
from bookings.domain.vocabulary import PartStat, Standing
from bookings.models import Booking, Meeting, OutboxMessage, WaitingPlace
from bookings.notices.families import invited, times
from bookings.notices.people import by_reader, instructor_reader, names
from bookings.notices.rows import MeetingPost, named
from bookings.notices.wording import (
    CHANGES,
    TEACHING,
    called,
    email_text,
    listed,
    period,
    possessive,
    short_time,
)


def meeting_made(meeting: Meeting, *, now: datetime) -> list[OutboxMessage]:
    """An invitation for the instructor of a new group meeting."""
    instructor = instructor_reader(meeting)
    post = MeetingPost(meeting, [instructor], now, is_new=True)
    return [invited_instructor(post, instructor, "New", "You teach a new group meeting")]


def meeting_changed(
    meeting: Meeting, bookings: Iterable[Booking], *, now: datetime
) -> list[OutboxMessage]:
    """The change of a time, join address or title for everybody with a place.

    PARTSTAT is NEEDS-ACTION: nobody has accepted the change yet.
    """
    instructor = instructor_reader(meeting)
    readers = by_reader([booking for booking in bookings if booking.standing == Standing.HELD], now)
    post = MeetingPost(meeting, [*readers, instructor], now)
    messages: list[OutboxMessage] = []
    for reader, theirs in readers.items():
        opening = (
            f"{possessive(names(reader, theirs))} {called(meeting)} has changed. "
            f"It is now: {named(meeting)}."
        )
        messages += invited(
            post, reader, theirs, title="Changed", opening=opening, partstat=PartStat.NEEDS_ACTION
        )
    if instructor not in readers:
        messages.append(
            invited_instructor(
                post,
                instructor,
                "Changed",
                "A meeting you teach has changed. It is now",
            )
        )
    return messages


def called_off(
    meeting: Meeting,
    bookings: Iterable[Booking],
    *,
    now: datetime,
    waiting: Iterable[WaitingPlace] = (),
) -> list[OutboxMessage]:
    """One email to each reader of these bookings and waiting places, and one to the instructor.

    Each has the typed reason.
    """
    instructor = instructor_reader(meeting)
    booked, queue = by_reader(bookings, now), by_reader(waiting, now)
    readers = {
        reader: _called_off(meeting, reader, booked.get(reader, []), queue.get(reader, []))
        for reader in {**booked, **queue}
    }
    readers.pop(instructor, None)
    post = MeetingPost(meeting, [*readers, instructor], now)
    messages = [
        _cancelled(post, reader, [opening, _why(meeting), times(meeting, reader)])
        for reader, opening in readers.items()
    ]
    told = (
        "This meeting is called off, and everybody in it has been told: "
        f"{named(meeting, instructor)}."
    )
    when = f"  {period(meeting, instructor.zone)}"
    return [*messages, _cancelled(post, instructor, [told, _why(meeting), when])]


def _why(meeting: Meeting) -> str:
    return f"Why: {meeting.called_off_why}" if meeting.called_off_why else ""


def _cancelled(post: MeetingPost, reader: User, paragraphs: Iterable[str]) -> OutboxMessage:
    meeting = post.meeting
    changes = TEACHING if reader == instructor_reader(meeting) else CHANGES
    return post.cancel(
        reader,
        f"Called off: {named(meeting, reader)}, {short_time(meeting.starts_at, reader.zone)}",
        email_text(reader.name, paragraphs, changes=changes),
        whole=True,
        state_key=f"called-off:{meeting.sequence}",
    )


def _called_off(
    meeting: Meeting, reader: User, booked: list[Booking], waiting: list[WaitingPlace]
) -> str:
    """The first sentence. A reader who only waited reads nothing of charges."""
    if not booked:
        students = listed(names(reader, waiting))
        return f"The meeting that {students} waited for is called off: {named(meeting)}."
    people = names(reader, [*booked, *waiting])
    return (
        f"{possessive(people)} {called(meeting)} is called off: {named(meeting)}. "
        "You will not be charged, and this does not count as a missed lesson."
    )


def invited_instructor(
    post: MeetingPost, instructor: User, title: str, opening: str, more: str = ""
) -> OutboxMessage:
    """The meeting for its instructor's calendar, told by `opening`."""
    meeting = post.meeting
    join = f"Join here: {meeting.join_address}" if meeting.join_address else ""
    body = email_text(
        instructor.name,
        [
            f"{opening}: {named(meeting, instructor)}.{more}",
            f"  {period(meeting, instructor.zone)}",
            join,
        ],
        changes=TEACHING,
    )
    return post.invite(
        instructor,
        f"{title}: {named(meeting, instructor)}, {short_time(meeting.starts_at, instructor.zone)}",
        body,
    )
