"""A place is taken, moved or given back: who hears of it."""

from collections.abc import Sequence
from datetime import datetime

from accounts.models import Instructor, User
from bookings.domain.vocabulary import Ended, PlaceKind
from bookings.models import Booking, Meeting, OutboxMessage
from bookings.notices.families import invited, times
from bookings.notices.people import as_taught, by_reader, held_beside, instructor_of, names
from bookings.notices.rows import MeetingPost, named
from bookings.notices.wording import (
    TEACHING,
    both_clocks,
    called,
    have,
    letter,
    listed,
    short_time,
    whose,
)

_BY_THE_FAMILY = (Ended.CANCELLED_IN_TIME, Ended.CANCELLED_LATE)


def booking_made(booking: Booking, *, now: datetime) -> list[OutboxMessage]:
    """An invitation and reminders for the family; the instructor is invited to a one-on-one and told of a place in a group."""
    meeting, instructor = booking.meeting, instructor_of(booking.meeting)
    readers = by_reader([booking], now)
    beside = held_beside(booking, readers, now)
    # Booking a one-on-one makes its meeting; every later change of it raises the meeting's SEQUENCE.
    post = MeetingPost(
        meeting,
        [*readers, instructor],
        now,
        is_new=meeting.offering.is_one_on_one and meeting.sequence == 0,
    )
    messages: list[OutboxMessage] = []
    for reader, hers in readers.items():
        everyone = [*hers, *beside.get(reader, [])]
        place = "a listener place" if booking.place_kind == PlaceKind.LISTENER else "a place"
        place = "a lesson" if meeting.offering.is_one_on_one else place
        opening = f"{have(names(reader, hers))} {place}: {named(meeting)}."
        messages += invited(
            post, reader, everyone, title="Booked", opening=opening, partstat=booking.partstat
        )
    if instructor in readers:  # she answers for the student too, and has had the one message
        return messages
    told = f"{as_taught(booking.student, now)}, has booked: {named(meeting, instructor)}."
    if meeting.offering.is_one_on_one:
        messages.append(
            post.invite(
                instructor,
                _heading("Booked", meeting, instructor),
                _to_instructor(booking, instructor, told),
            )
        )
    else:
        body = _to_instructor(booking, instructor, told, _places_left(meeting))
        messages.append(
            post.tell(
                instructor,
                f"booking:{booking.pk}:made",
                _heading("A place was taken", meeting, instructor),
                body,
            )
        )
    return messages


def booking_moved(
    booking: Booking, *, old_starts_at: datetime, old_instructor: Instructor, now: datetime
) -> list[OutboxMessage]:
    """A one-on-one at another time or with another instructor: the same entry, changed, and gone from the old instructor's calendar."""
    meeting, instructor, before = (
        booking.meeting,
        instructor_of(booking.meeting),
        old_instructor.user,
    )
    readers = by_reader([booking], now)
    post = MeetingPost(meeting, [*readers, instructor, before], now)
    messages: list[OutboxMessage] = []
    for reader, hers in readers.items():
        was = short_time(old_starts_at, reader.zone)
        opening = f"{whose(names(reader, hers))} {called(meeting)} has moved from {was}. It is now: {named(meeting)}."
        messages += invited(
            post, reader, hers, title="Moved", opening=opening, partstat=booking.partstat
        )
    who = as_taught(booking.student, now)
    told = f"{who}, has moved from {short_time(old_starts_at, instructor.zone)}: {named(meeting, instructor)}."
    if before != instructor:
        told = f"{who}, now comes to you: {named(meeting, instructor)}."
        gone = f"{who}, no longer comes to you on {short_time(old_starts_at, before.zone)}. Another instructor takes the lesson."
        body = letter(before.name, [gone], changes=TEACHING)
        title = f"Moved away: {meeting.offering.name}, {short_time(old_starts_at, before.zone)}"
        if before not in readers:
            messages.append(
                post.cancel(
                    before,
                    title,
                    body,
                    whole=False,
                    state_key=f"booking:{booking.pk}:moved:{meeting.sequence}",
                )
            )
    if instructor not in readers:
        messages.append(
            post.invite(
                instructor,
                _heading("Moved", meeting, instructor),
                _to_instructor(booking, instructor, told),
            )
        )
    return messages


def booking_ended(booking: Booking, *, said: str = "", now: datetime) -> list[OutboxMessage]:
    """Out of the family's calendar, unless somebody else of it stays in the meeting; the instructor hears of a place that was held.

    `said` is the sentence that tells all of them why.

    An offer that was never accepted is in no calendar, and the instructor was never told of it. Accepting clears `answer_by`.
    """
    meeting, instructor = booking.meeting, instructor_of(booking.meeting)
    readers = by_reader([booking], now)
    only_offered = booking.answer_by is not None
    beside = {} if only_offered else held_beside(booking, readers, now)
    post = MeetingPost(meeting, [*readers, instructor], now)
    state_key = f"booking:{booking.pk}:ended"
    messages: list[OutboxMessage] = []
    for reader, hers in readers.items():
        opening = f"{_how_it_ended(booking, names(reader, hers))}: {named(meeting)}."
        body = letter(reader.name, [opening, times(meeting, reader), _if_late(booking), said])
        ended = (
            "Cancelled"
            if meeting.is_cancelled
            else "Offer ended"
            if only_offered
            else "Place ended"
        )
        title = f"{ended}: {named(meeting)}, {short_time(meeting.starts_at, reader.zone)}"
        if reader in beside:
            opening += f" {whose(names(reader, beside[reader]))} place stays."
            messages += invited(
                post,
                reader,
                beside[reader],
                title="Changed",
                opening=opening,
                partstat=beside[reader][0].partstat,
            )
        elif only_offered or (reader == instructor and not meeting.is_cancelled):
            messages.append(post.tell(reader, state_key, title, body))
        else:
            messages.append(
                post.cancel(reader, title, body, whole=meeting.is_cancelled, state_key=state_key)
            )
    if only_offered or instructor in readers:
        return messages
    did = "has cancelled" if booking.ended_why in _BY_THE_FAMILY else "is no longer in this meeting"
    told = f"{as_taught(booking.student, now)}, {did}: {named(meeting, instructor)}."
    title = _heading(
        "Cancelled" if meeting.is_cancelled else "A place was given back", meeting, instructor
    )
    if meeting.is_cancelled:
        messages.append(
            post.cancel(
                instructor,
                title,
                _to_instructor(booking, instructor, told, said),
                whole=True,
                state_key=state_key,
            )
        )
    else:
        messages.append(
            post.tell(
                instructor,
                state_key,
                title,
                _to_instructor(booking, instructor, told, _places_left(meeting), said),
            )
        )
    return messages


def _how_it_ended(booking: Booking, people: Sequence[str]) -> str:
    match booking.ended_why:
        case Ended.LAPSED:
            return f"The place offered to {listed(people)} was not answered in time, so it goes to the next in line"
        case Ended.DECLINED:
            return f"The place offered to {listed(people)} has been declined, so it goes to the next in line"
        case Ended.REMOVED:
            return f"The school has removed {listed(people)} from this meeting"
        case _:
            if booking.meeting.is_cancelled:
                return f"{whose(people)} {called(booking.meeting)} is cancelled"
            return f"{whose(people)} place has been given back"


def _if_late(booking: Booking) -> str:
    return (
        "It was cancelled after the deadline, so it is charged."
        if booking.ended_why == Ended.CANCELLED_LATE
        else ""
    )


def _heading(what: str, meeting: Meeting, instructor: User) -> str:
    return f"{what}: {named(meeting, instructor)}, {short_time(meeting.starts_at, instructor.zone)}"


def _to_instructor(booking: Booking, instructor: User, *told: str) -> str:
    """One-on-one with both clocks; a group only with the instructor's own."""
    meeting = booking.meeting
    others = booking.student.zone if meeting.offering.is_one_on_one else instructor.zone
    join = (
        f"Join here: {meeting.join_address}"
        if meeting.join_address and not meeting.is_cancelled
        else ""
    )
    clocks = both_clocks(meeting, instructor, others, booking.student.first_name)
    return letter(instructor.name, [told[0], clocks, *told[1:], join], changes=TEACHING)


def _places_left(meeting: Meeting) -> str:
    left = f"Places left: {meeting.places - meeting.taken} of {meeting.places}"
    if meeting.listener_places:
        left += f", for listeners {meeting.listener_places - meeting.listeners_taken} of {meeting.listener_places}"
    return f"{left}."
