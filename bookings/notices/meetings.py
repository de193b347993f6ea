"""A whole meeting is made, changed, called off or reinstated: one message to each reader, however many of her people are in it."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime

from accounts.models import User
from bookings.domain.vocabulary import PartStat, Standing
from bookings.models import Booking, Meeting, OutboxMessage, WaitingPlace
from bookings.notices.families import invited, times
from bookings.notices.people import as_taught, by_reader, instructor_of, names
from bookings.notices.rows import MeetingPost, named
from bookings.notices.wording import (
    TEACHING,
    called,
    have,
    letter,
    listed,
    period,
    short_time,
    whose,
)

_AFTER_ALL = "Reinstated"
_WHY_LEFT_OUT = {
    "own-clash": "another meeting has since been booked for that time",
    "consent-missing": "no guardian’s consent is on file",
    "already-ended": "nothing can be booked for somebody who has left the school",
}


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A booking that does not come back with its meeting, and the code of what stands against it."""

    booking: Booking
    code: str

    @property
    def why(self) -> str:
        """The same in words."""
        return _WHY_LEFT_OUT[self.code]


def meeting_made(meeting: Meeting, *, now: datetime) -> list[OutboxMessage]:
    """A group meeting stands in its instructor's calendar from the day it is made."""
    instructor = instructor_of(meeting)
    post = MeetingPost(meeting, [instructor], now, is_new=True)
    return [_to_instructor(post, instructor, "New", "You teach a new group meeting")]


def meeting_changed(
    meeting: Meeting, bookings: Iterable[Booking], *, now: datetime
) -> list[OutboxMessage]:
    """Time, join address or title changed: the entry changes in every calendar that has it. They have not said yes to it yet."""
    instructor = instructor_of(meeting)
    readers = by_reader([booking for booking in bookings if booking.standing == Standing.HELD], now)
    post = MeetingPost(meeting, [*readers, instructor], now)
    messages: list[OutboxMessage] = []
    for reader, hers in readers.items():
        opening = f"{whose(names(reader, hers))} {called(meeting)} has changed. It is now: {named(meeting)}."
        messages += invited(
            post, reader, hers, title="Changed", opening=opening, partstat=PartStat.NEEDS_ACTION
        )
    if instructor not in readers:
        messages.append(
            _to_instructor(
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
    """The meeting will not take place: one message to each reader of a booking, to who waits where
    named, and to the instructor.

    Each says why, in the words that were typed.
    """
    instructor = instructor_of(meeting)
    why = f"Why: {meeting.called_off_why}" if meeting.called_off_why else ""
    booked, queue = by_reader(bookings, now), by_reader(waiting, now)
    readers = {
        reader: _called_off(meeting, reader, booked.get(reader, []), queue.get(reader, []))
        for reader in {**booked, **queue}
    }
    readers.pop(instructor, None)
    post = MeetingPost(meeting, [*readers, instructor], now)
    state_key = f"called-off:{meeting.sequence}"
    messages: list[OutboxMessage] = []
    for reader, opening in readers.items():
        title = f"Called off: {named(meeting)}, {short_time(meeting.starts_at, reader.zone)}"
        messages.append(
            post.cancel(
                reader,
                title,
                letter(reader.name, [opening, why, times(meeting, reader)]),
                whole=True,
                state_key=state_key,
            )
        )
    title = f"Called off: {named(meeting, instructor)}, {short_time(meeting.starts_at, instructor.zone)}"
    told = f"This meeting is called off, and everybody in it has been told: {named(meeting, instructor)}."
    body = letter(
        instructor.name, [told, why, f"  {period(meeting, instructor.zone)}"], changes=TEACHING
    )
    messages.append(post.cancel(instructor, title, body, whole=True, state_key=state_key))
    return messages


def _called_off(
    meeting: Meeting, reader: User, booked: list[Booking], waiting: list[WaitingPlace]
) -> str:
    """Who only waited has nothing in a calendar, and is charged nothing anyway."""
    if not booked:
        return f"The meeting that {listed(names(reader, waiting))} waited for is called off: {named(meeting)}."
    people = names(reader, [*booked, *waiting])
    return (
        f"{whose(people)} {called(meeting)} is called off: {named(meeting)}. You will not be charged, "
        "and this does not count as a missed lesson."
    )


def reinstated(
    meeting: Meeting,
    back: Iterable[Booking],
    *,
    left_out: Collection[LeftOut],
    waiting: Iterable[WaitingPlace],
    asked: Collection[int] = (),
    now: datetime,
) -> list[OutboxMessage]:
    """What was called off takes place after all: a REQUEST to who is in it again, plain words to who is not, and to who waits.

    `asked` are those (user ids) to whom a place is offered in the same change: of the waiting list they need no second message.
    """
    instructor = instructor_of(meeting)
    booked, queue = by_reader(back, now), by_reader(waiting, now)
    queue = {reader: hers for reader, hers in queue.items() if reader.pk not in asked}
    reasons = dict.fromkeys(one.why for one in left_out)
    gone = {
        why: by_reader([one.booking for one in left_out if one.why == why], now) for why in reasons
    }
    readers = dict.fromkeys(
        [*booked, *(reader for hers in gone.values() for reader in hers), *queue]
    )
    post = MeetingPost(meeting, [*readers, instructor], now)
    messages: list[OutboxMessage] = []
    for reader in readers:
        told = [f"The {called(meeting)} that was called off has been reinstated: {named(meeting)}."]
        told += (
            [f"{whose(names(reader, booked[reader]))} place is kept as it was."]
            if reader in booked
            else []
        )
        told += [
            f"{whose(names(reader, hers[reader]))} place is not: {why}."
            for why, hers in gone.items()
            if reader in hers
        ]
        told += (
            [
                f"{have(names(reader, queue[reader]))} the same position on its waiting list as before."
            ]
            if reader in queue
            else []
        )
        if reader in booked:
            messages += invited(
                post,
                reader,
                booked[reader],
                title=_AFTER_ALL,
                opening=" ".join(told),
                partstat=PartStat.NEEDS_ACTION,
            )
        elif reader != instructor:
            title = f"{_AFTER_ALL}: {named(meeting)}, {short_time(meeting.starts_at, reader.zone)}"
            body = letter(reader.name, [" ".join(told), times(meeting, reader)])
            messages.append(post.tell(reader, f"reinstated:{meeting.sequence}", title, body))
    if instructor not in booked:
        missing = (
            f" No longer in it: {listed([as_taught(one.booking.student, now) for one in left_out])}."
            if left_out
            else ""
        )
        opening = "A meeting that was called off has been reinstated, and everybody who was in it has been told"
        messages.append(_to_instructor(post, instructor, _AFTER_ALL, opening, missing))
    return messages


def _to_instructor(
    post: MeetingPost, instructor: User, title: str, opening: str, more: str = ""
) -> OutboxMessage:
    meeting = post.meeting
    join = f"Join here: {meeting.join_address}" if meeting.join_address else ""
    body = letter(
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
