"""Emails about a whole meeting: made, changed or called off.

Each reader gets one, however many of their students are in it.
"""

from collections.abc import Iterable, Sequence
from datetime import datetime

from accounts.models import User
from bookings.domain.vocabulary import PartStat, Standing
from bookings.models import Booking, Meeting, OutboxMessage, OwedLesson, WaitingPlace
from bookings.notices.families import invited, times
from bookings.notices.owed import what_is_owed
from bookings.notices.people import by_reader, instructor_reader, names
from bookings.notices.rows import MeetingPost, named
from bookings.notices.wording import (
    CHANGES,
    TEACHING,
    called,
    email_text,
    listed,
    not_certain,
    period,
    possessive,
    sentences,
    short_time,
)

NO_CHARGE = "You will not be charged, and this does not count as a missed lesson."
NO_CHARGE_FOR_MANY = "You will not be charged, and none of them counts as a missed lesson."


def meeting_made(meeting: Meeting, *, now: datetime) -> list[OutboxMessage]:
    """An invitation for the instructor of a new group meeting."""
    instructor = instructor_reader(meeting)
    post = MeetingPost(meeting, [instructor], now, is_new=True)
    certain = not_certain(meeting, instructor.zone)
    more = f" {certain}" if certain else ""
    return [invited_instructor(post, instructor, "New", "You teach a new group meeting", more)]


def meeting_changed(
    meeting: Meeting, bookings: Iterable[Booking], *, now: datetime
) -> list[OutboxMessage]:
    """The change of a time, join address or title for everybody with a place.

    PARTSTAT is NEEDS-ACTION: nobody has accepted the change yet.
    """
    became = "has changed. It is now"
    return _told_anew(meeting, bookings, "Changed", became, PartStat.NEEDS_ACTION, now=now)


def meeting_runs(
    meeting: Meeting, bookings: Iterable[Booking], *, now: datetime
) -> list[OutboxMessage]:
    """The meeting, now CONFIRMED, for everybody who holds a place, with new reminders.

    Nothing that anybody has accepted changes, so each calendar's reply stays.
    """
    return _told_anew(meeting, bookings, "It runs", "is certain now and takes place", None, now=now)


def _told_anew(
    meeting: Meeting,
    bookings: Iterable[Booking],
    title: str,
    became: str,
    partstat: PartStat | None,
    *,
    now: datetime,
) -> list[OutboxMessage]:
    """What `became` of the meeting, for everybody who holds a place and the instructor.

    Without a PARTSTAT each calendar's reply stays.
    """
    instructor = instructor_reader(meeting)
    readers = by_reader([booking for booking in bookings if booking.standing == Standing.HELD], now)
    post = MeetingPost(meeting, [*readers, instructor], now)
    messages: list[OutboxMessage] = []
    for reader, theirs in readers.items():
        whose = f"{possessive(names(reader, theirs))} {called(meeting)}"
        messages += invited(
            post,
            reader,
            theirs,
            title=title,
            opening=f"{whose} {became}: {named(meeting)}.",
            partstat=partstat or theirs[0].partstat,
        )
    if instructor not in readers:
        opening = f"A meeting you teach {became}"
        messages.append(invited_instructor(post, instructor, title, opening))
    return messages


def called_off(
    meeting: Meeting,
    bookings: Iterable[Booking],
    *,
    now: datetime,
    owed: Sequence[OwedLesson] = (),
    waiting: Iterable[WaitingPlace] = (),
) -> list[OutboxMessage]:
    """One email to each reader of these bookings and waiting places, and one to the instructor.

    Each has the typed reason, and a family what it is `owed`.
    """
    instructor = instructor_reader(meeting)
    booked, queue = by_reader(bookings, now), by_reader(waiting, now)
    readers = {
        reader: (booked.get(reader, []), queue.get(reader, [])) for reader in {**booked, **queue}
    }
    readers.pop(instructor, None)
    post = MeetingPost(meeting, [*readers, instructor], now)
    messages = [
        cancelled(
            post,
            reader,
            [
                sentences(
                    what_is_off(meeting, reader, *places),
                    no_charge(places[0]),
                    what_is_owed(owed) if places[0] else "",
                ),
                why_called_off(meeting),
                times(meeting, reader),
            ],
        )
        for reader, places in readers.items()
    ]
    return [*messages, off_for_instructor(post, instructor)]


def off_for_instructor(post: MeetingPost, instructor: User) -> OutboxMessage:
    """Cancels the meeting in its instructor's calendar."""
    meeting = post.meeting
    told = (
        "This meeting is called off, and everybody in it has been told: "
        f"{named(meeting, instructor)}."
    )
    when = f"  {period(meeting, instructor.zone)}"
    return cancelled(post, instructor, [told, why_called_off(meeting), when])


def why_called_off(meeting: Meeting) -> str:
    """The typed reason as a paragraph; empty where there is none."""
    return f"Why: {meeting.called_off_why}" if meeting.called_off_why else ""


def cancelled(post: MeetingPost, reader: User, paragraphs: Iterable[str]) -> OutboxMessage:
    """The meeting's end for whoever has it in a calendar; an email for any other reader."""
    meeting = post.meeting
    changes = TEACHING if reader == instructor_reader(meeting) else CHANGES
    return post.cancel(
        reader,
        f"Called off: {named(meeting, reader)}, {short_time(meeting.starts_at, reader.zone)}",
        email_text(reader.name, paragraphs, changes=changes),
        whole=True,
        state_key=f"called-off:{meeting.sequence}",
    )


def what_is_off(
    meeting: Meeting, reader: User, booked: Sequence[Booking], waiting: Sequence[WaitingPlace]
) -> str:
    """Whose lesson or meeting is called off."""
    if not booked:
        students = listed(names(reader, waiting))
        return f"The meeting that {students} waited for is called off: {named(meeting)}."
    people = names(reader, [*booked, *waiting])
    return f"{possessive(people)} {called(meeting)} is called off: {named(meeting)}."


def no_charge(booked: Sequence[Booking], *, is_of_many: bool = False) -> str:
    """What a meeting that is called off, or one of many, means for those booked; nothing for a
    reader who only waited.
    """
    if not booked:
        return ""
    return NO_CHARGE_FOR_MANY if is_of_many else NO_CHARGE


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
