"""Emails about a place that is booked or given back."""

from collections.abc import Sequence
from datetime import datetime

from accounts.models import User
from bookings.domain.vocabulary import Ended, PlaceKind
from bookings.models import Booking, Meeting, OutboxMessage, OwedLesson
from bookings.notices.families import invited, times
from bookings.notices.owed import why_not_owed
from bookings.notices.people import as_taught, by_reader, held_beside, instructor_reader, names
from bookings.notices.rows import MeetingPost, named
from bookings.notices.wording import (
    TEACHING,
    both_clocks,
    called,
    email_text,
    have,
    listed,
    possessive,
    short_time,
)

_BY_THE_FAMILY = {
    Ended.CANCELLED_IN_TIME: "has cancelled",
    Ended.CANCELLED_LATE: "has cancelled",
    Ended.DECLINED: "has declined the time",
}


def booking_made(booking: Booking, *, now: datetime) -> list[OutboxMessage]:
    """An invitation and reminders for the family, and news for the instructor.

    The instructor is invited to a one-on-one, and told of a place in a group meeting.
    """
    meeting, instructor = booking.meeting, instructor_reader(booking.meeting)
    readers = by_reader([booking], now)
    beside = held_beside(booking, readers, now)
    # Booking a one-on-one makes its meeting. Every later change raises the meeting's SEQUENCE.
    is_new = meeting.offering.is_one_on_one and meeting.sequence == 0
    post = MeetingPost(meeting, [*readers, instructor], now, is_new=is_new)
    place = "a listener place" if booking.place_kind == PlaceKind.LISTENER else "a place"
    if meeting.offering.is_one_on_one:
        place = "a lesson" if booking.makes_up_id is None else "a make-up lesson"
    messages: list[OutboxMessage] = []
    for reader, theirs in readers.items():
        everyone = [*theirs, *beside.get(reader, [])]
        opening = f"{have(names(reader, theirs))} {place}: {named(meeting)}."
        messages += invited(
            post, reader, everyone, title="Booked", opening=opening, partstat=booking.partstat
        )
    if instructor not in readers:  # an instructor of the family has had the email above
        messages.append(_told_of_booking(post, booking))
    return messages


def _told_of_booking(post: MeetingPost, booking: Booking) -> OutboxMessage:
    meeting, instructor = post.meeting, instructor_reader(post.meeting)
    told = f"{as_taught(booking.student, post.now)}, has booked: {named(meeting, instructor)}."
    if meeting.offering.is_one_on_one:
        body = to_instructor(booking, instructor, told)
        return post.invite(instructor, heading("Booked", meeting, instructor), body)
    body = to_instructor(booking, instructor, told, _places_left(meeting))
    title = heading("A place was taken", meeting, instructor)
    return post.tell(instructor, f"booking:{booking.pk}:made", title, body)


def booking_ended(
    booking: Booking, *, owed: OwedLesson | None = None, said: str = "", now: datetime
) -> list[OutboxMessage]:
    """Cancels the meeting in the family's calendar and tells the instructor.

    It stays in the calendar of a reader with another place in the same meeting. `said` is a
    sentence for everybody, `owed` what the school owes the family for it. An offer that was never
    accepted is in no calendar, and the instructor was never told of it; accepting clears
    `answer_by`.
    """
    meeting, instructor = booking.meeting, instructor_reader(booking.meeting)
    readers = by_reader([booking], now)
    is_offer = booking.answer_by is not None
    beside = {} if is_offer else held_beside(booking, readers, now)
    post = MeetingPost(meeting, [*readers, instructor], now)
    messages: list[OutboxMessage] = []
    for reader, theirs in readers.items():
        people = names(reader, theirs)
        if reader in beside:
            messages += _one_place_stays(post, booking, reader, people, beside[reader])
        else:
            left = why_not_owed(booking, owed)
            messages.append(_ended_for_family(post, booking, reader, people, left, said))
    if not is_offer and instructor not in readers:
        messages.append(_ended_for_instructor(post, booking, said))
    return messages


def _one_place_stays(
    post: MeetingPost,
    booking: Booking,
    reader: User,
    people: Sequence[str],
    kept: Sequence[Booking],
) -> list[OutboxMessage]:
    opening = (
        f"{_how_it_ended(booking, people)}: {named(post.meeting)}. "
        f"{possessive(names(reader, kept))} place stays."
    )
    return invited(post, reader, kept, title="Changed", opening=opening, partstat=kept[0].partstat)


def _ended_for_family(
    post: MeetingPost,
    booking: Booking,
    reader: User,
    people: Sequence[str],
    *said: str,
) -> OutboxMessage:
    meeting, state_key = post.meeting, f"booking:{booking.pk}:ended"
    is_offer = booking.answer_by is not None
    if meeting.is_cancelled:
        ended = "Cancelled"
    elif is_offer:
        ended = "Offer ended"
    else:
        ended = "Place ended"
    title = f"{ended}: {named(meeting)}, {short_time(meeting.starts_at, reader.zone)}"
    opening = f"{_how_it_ended(booking, people)}: {named(meeting)}."
    body = email_text(
        reader.name, [opening, times(meeting, reader), charged_if_late(booking), *said]
    )
    is_instructor = reader == instructor_reader(meeting)
    if is_offer or (is_instructor and not meeting.is_cancelled):
        return post.tell(reader, state_key, title, body)
    return post.cancel(reader, title, body, whole=meeting.is_cancelled, state_key=state_key)


def _ended_for_instructor(post: MeetingPost, booking: Booking, said: str) -> OutboxMessage:
    meeting, instructor = post.meeting, instructor_reader(post.meeting)
    state_key = f"booking:{booking.pk}:ended"
    did = _BY_THE_FAMILY.get(Ended(booking.ended_why), "is no longer in this meeting")
    told = f"{as_taught(booking.student, post.now)}, {did}: {named(meeting, instructor)}."
    if meeting.is_cancelled:
        title = heading("Cancelled", meeting, instructor)
        body = to_instructor(booking, instructor, told, said)
        return post.cancel(instructor, title, body, whole=True, state_key=state_key)
    title = heading("A place was given back", meeting, instructor)
    body = to_instructor(booking, instructor, told, _places_left(meeting), said)
    return post.tell(instructor, state_key, title, body)


def _how_it_ended(booking: Booking, people: Sequence[str]) -> str:
    if booking.ended_why == Ended.DECLINED and booking.answer_by is None:
        return f"{possessive(people)} {called(booking.meeting)} is declined and will not be charged"
    match booking.ended_why:
        case Ended.LAPSED:
            return (
                f"The place offered to {listed(people)} was not answered in time, "
                "so it goes to the next in line"
            )
        case Ended.DECLINED:
            return (
                f"The place offered to {listed(people)} has been declined, "
                "so it goes to the next in line"
            )
        case Ended.REMOVED:
            return f"The school has removed {listed(people)} from this meeting"
        case _:
            if booking.meeting.is_cancelled:
                return f"{possessive(people)} {called(booking.meeting)} is cancelled"
            return f"{possessive(people)} place has been given back"


def charged_if_late(booking: Booking) -> str:
    """What a family is told of a late cancellation; empty for any other end."""
    if booking.ended_why == Ended.CANCELLED_LATE:
        return "It was cancelled after the deadline, so it is charged."
    return ""


def heading(what: str, meeting: Meeting, instructor: User) -> str:
    return f"{what}: {named(meeting, instructor)}, {short_time(meeting.starts_at, instructor.zone)}"


def to_instructor(booking: Booking, instructor: User, *told: str) -> str:
    """The body for the instructor; a one-on-one is shown in the student's zone too."""
    meeting = booking.meeting
    others = booking.student.zone if meeting.offering.is_one_on_one else instructor.zone
    join = (
        f"Join here: {meeting.join_address}"
        if meeting.join_address and not meeting.is_cancelled
        else ""
    )
    clocks = both_clocks(meeting, instructor, others, booking.student.first_name)
    return email_text(instructor.name, [told[0], clocks, *told[1:], join], changes=TEACHING)


def _places_left(meeting: Meeting) -> str:
    left = f"Places left: {meeting.places - meeting.taken} of {meeting.places}"
    if meeting.listener_places:
        free = meeting.listener_places - meeting.listeners_taken
        left += f", for listeners {free} of {meeting.listener_places}"
    return f"{left}."
