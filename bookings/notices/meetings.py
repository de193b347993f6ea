"""A whole meeting is made, changed or called off: one message to each reader, however many of her people are in it."""

from collections.abc import Iterable
from datetime import datetime

from accounts.models import User
from bookings.domain.vocabulary import PartStat, Standing
from bookings.models import Booking, Meeting, OutboxMessage, WaitingPlace
from bookings.notices.families import invited, times
from bookings.notices.people import by_reader, instructor_of, names
from bookings.notices.rows import MeetingPost, named
from bookings.notices.wording import TEACHING, letter, listed, period, short_time, whose


def meeting_made(meeting: Meeting, *, now: datetime) -> list[OutboxMessage]:
    """A group meeting stands in its instructor's calendar from the day it is made."""
    instructor = instructor_of(meeting)
    post = MeetingPost(meeting, [instructor], now, is_new=True)
    return [_to_instructor(post, instructor, "New", "You teach a new group meeting")]


def meeting_changed(meeting: Meeting, bookings: Iterable[Booking], *, now: datetime) -> list[OutboxMessage]:
    """Time, join address or title changed: the entry changes in every calendar that has it. They have not said yes to it yet."""
    instructor = instructor_of(meeting)
    readers = by_reader([booking for booking in bookings if booking.standing == Standing.HELD], now)
    post = MeetingPost(meeting, [*readers, instructor], now)
    messages: list[OutboxMessage] = []
    for reader, hers in readers.items():
        opening = f"{whose(names(reader, hers))} meeting has changed. This is how it stands now: {named(meeting)}."
        messages += invited(post, reader, hers, title="Changed", opening=opening, partstat=PartStat.NEEDS_ACTION)
    if instructor not in readers:
        messages.append(_to_instructor(post, instructor, "Changed", "A meeting you teach has changed. This is how it stands now"))
    return messages


def called_off(
    meeting: Meeting, bookings: Iterable[Booking], *, now: datetime, waiting: Iterable[WaitingPlace] = ()
) -> list[OutboxMessage]:
    """The meeting will not take place: one message to each reader of a booking, to who waits where named, and to the instructor."""
    instructor = instructor_of(meeting)
    booked, queue = by_reader(bookings, now), by_reader(waiting, now)
    readers = {reader: _called_off(meeting, reader, booked.get(reader, []), queue.get(reader, [])) for reader in {**booked, **queue}}
    readers.pop(instructor, None)
    post = MeetingPost(meeting, [*readers, instructor], now)
    state_key = f"called-off:{meeting.sequence}"
    messages: list[OutboxMessage] = []
    for reader, opening in readers.items():
        title = f"Called off: {named(meeting)}, {short_time(meeting.starts_at, reader.zone)}"
        messages.append(post.cancel(reader, title, letter(reader.name, [opening, times(meeting, reader)]), whole=True, state_key=state_key))
    title = f"Called off: {named(meeting, instructor)}, {short_time(meeting.starts_at, instructor.zone)}"
    told = f"This meeting is called off, and everybody in it has been told: {named(meeting, instructor)}."
    body = letter(instructor.name, [told, f"  {period(meeting, instructor.zone)}"], changes=TEACHING)
    messages.append(post.cancel(instructor, title, body, whole=True, state_key=state_key))
    return messages


def _called_off(meeting: Meeting, reader: User, booked: list[Booking], waiting: list[WaitingPlace]) -> str:
    """Who only waited has nothing in a calendar, and owes nothing."""
    if not booked:
        return f"The meeting that {listed(names(reader, waiting))} waited for is called off: {named(meeting)}."
    people = names(reader, [*booked, *waiting])
    return f"{whose(people)} meeting is called off: {named(meeting)}. It leaves the calendar, and nothing is owed for it."


def _to_instructor(post: MeetingPost, instructor: User, title: str, opening: str) -> OutboxMessage:
    meeting = post.meeting
    join = f"Join here: {meeting.join_address}" if meeting.join_address else ""
    body = letter(
        instructor.name, [f"{opening}: {named(meeting, instructor)}.", f"  {period(meeting, instructor.zone)}", join], changes=TEACHING
    )
    return post.invite(instructor, f"{title}: {named(meeting, instructor)}, {short_time(meeting.starts_at, instructor.zone)}", body)
