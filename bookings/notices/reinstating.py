"""Emails about a meeting that was called off and is reinstated."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from accounts.models import User
from bookings.domain.vocabulary import PartStat
from bookings.models import Booking, Meeting, OutboxMessage, WaitingPlace
from bookings.notices.families import invited, times
from bookings.notices.meetings import invited_instructor
from bookings.notices.people import as_taught, by_reader, instructor_reader, names
from bookings.notices.rows import MeetingPost, named
from bookings.notices.wording import called, email_text, have, listed, possessive, short_time

_AFTER_ALL = "Reinstated"
_WHY_LEFT_OUT = {
    "own-clash": "another meeting has since been booked for that time",
    "consent-missing": "no guardian’s consent is on file",
    "already-ended": "nothing can be booked for somebody who has left the school",
}


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A booking that does not come back with its meeting, and the code of the reason."""

    booking: Booking
    code: str

    @property
    def why(self) -> str:
        """The reason in words."""
        return _WHY_LEFT_OUT[self.code]


@dataclass(frozen=True, slots=True)
class _Return:
    """What each reader learns of a reinstated meeting."""

    booked: Mapping[User, Sequence[Booking]]
    left_out: Mapping[str, Mapping[User, Sequence[Booking]]]
    """By the reason, in words."""
    waiting: Mapping[User, Sequence[WaitingPlace]]

    @property
    def readers(self) -> list[User]:
        """Everybody who is told, once each."""
        gone = [reader for theirs in self.left_out.values() for reader in theirs]
        return list(dict.fromkeys([*self.booked, *gone, *self.waiting]))


def reinstated(
    meeting: Meeting,
    back: Iterable[Booking],
    *,
    left_out: Collection[LeftOut],
    waiting: Iterable[WaitingPlace],
    asked: Collection[int] = (),
    now: datetime,
) -> list[OutboxMessage]:
    """A REQUEST to those who are in the meeting again; an email to those left out or waiting.

    `asked` are the ids of users who are offered a place in the same change: they need no second
    email about the waiting list.
    """
    instructor = instructor_reader(meeting)
    reasons = dict.fromkeys(one.why for one in left_out)
    change = _Return(
        booked=by_reader(back, now),
        left_out={
            why: by_reader([one.booking for one in left_out if one.why == why], now)
            for why in reasons
        },
        waiting={
            reader: places
            for reader, places in by_reader(waiting, now).items()
            if reader.pk not in asked
        },
    )
    post = MeetingPost(meeting, [*change.readers, instructor], now)
    messages: list[OutboxMessage] = []
    for reader in change.readers:
        messages += _reinstated_for(post, reader, change)
    if instructor not in change.booked:
        messages.append(_reinstated_for_instructor(post, left_out))
    return messages


def _reinstated_for(post: MeetingPost, reader: User, change: _Return) -> list[OutboxMessage]:
    """None for an instructor who is not in the meeting: they get an email of their own."""
    meeting, opening = post.meeting, " ".join(_what_is_back(post.meeting, reader, change))
    if reader in change.booked:
        return invited(
            post,
            reader,
            change.booked[reader],
            title=_AFTER_ALL,
            opening=opening,
            partstat=PartStat.NEEDS_ACTION,
        )
    if reader == instructor_reader(meeting):
        return []
    title = f"{_AFTER_ALL}: {named(meeting)}, {short_time(meeting.starts_at, reader.zone)}"
    body = email_text(reader.name, [opening, times(meeting, reader)])
    return [post.tell(reader, f"reinstated:{meeting.sequence}", title, body)]


def _what_is_back(meeting: Meeting, reader: User, change: _Return) -> list[str]:
    told = [f"The {called(meeting)} that was called off has been reinstated: {named(meeting)}."]
    if reader in change.booked:
        people = possessive(names(reader, change.booked[reader]))
        told.append(f"{people} place is kept as it was.")
        if meeting.offering.is_one_on_one:
            told.append("The lesson takes place, so it is not owed any more.")
    for why, places in change.left_out.items():
        if reader in places:
            told.append(f"{possessive(names(reader, places[reader]))} place is not: {why}.")
    if reader in change.waiting:
        people = have(names(reader, change.waiting[reader]))
        told.append(f"{people} the same position on its waiting list as before.")
    return told


def _reinstated_for_instructor(post: MeetingPost, left_out: Collection[LeftOut]) -> OutboxMessage:
    missing = ""
    if left_out:
        students = listed([as_taught(one.booking.student, post.now) for one in left_out])
        missing = f" No longer in it: {students}."
    opening = (
        "A meeting that was called off has been reinstated, "
        "and everybody who was in it has been told"
    )
    return invited_instructor(post, instructor_reader(post.meeting), _AFTER_ALL, opening, missing)
