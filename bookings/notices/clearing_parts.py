"""What one reader may be told of one meeting in hours that are cleared, alone or with more."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from accounts.models import User
from bookings.domain.news import counted
from bookings.models import Booking, Meeting, OutboxMessage, OwedLesson, WaitingPlace
from bookings.notices.cover_teachers import gives_up, teaching_line, to_whom
from bookings.notices.covering import (
    SILENCE,
    SILENCE_ON_MANY,
    Covered,
    covered_alone,
    covered_in_calendar,
    who_teaches,
)
from bookings.notices.families import invited, reminders, times, what_to_know
from bookings.notices.meetings import (
    cancelled,
    no_charge,
    off_for_instructor,
    what_is_off,
    why_called_off,
)
from bookings.notices.moving import has_moved, moved_for_instructor, moved_in_calendar
from bookings.notices.owed import what_is_owed
from bookings.notices.people import by_reader, instructor_reader
from bookings.notices.rows import MeetingPost, named
from bookings.notices.wording import called, email_text, sentences, short_time

Calendars = set[tuple[int, int]]


@dataclass(frozen=True, slots=True)
class CalledOff:
    """A meeting that is called off, with those who were booked and who waited, and what is `owed`
    for it.

    `will_propose` says that its instructor will propose other times.
    """

    meeting: Meeting
    bookings: Sequence[Booking]
    waiting: Sequence[WaitingPlace] = ()
    owed: Sequence[OwedLesson] = ()
    will_propose: bool = False


@dataclass(frozen=True, slots=True)
class MovedLesson:
    """A lesson at its new time, and when it was before."""

    booking: Booking
    old_starts_at: datetime


class Part(Protocol):
    """One meeting as its `readers` are told of it, and its instructor.

    `alone` is a family's whole email. `told` and `closing` are paragraphs of an email about
    several: what has happened, and what is said once of all under the same `heading`.
    `for_calendar` says no more than a calendar needs. The instructor reads the `line` under the
    heading, and their calendar is sent the `entry`. `was_at` is the start that all knew.
    """

    heading: str
    meeting: Meeting
    was_at: datetime

    @property
    def readers(self) -> Sequence[User]: ...
    def alone(self, reader: User) -> list[OutboxMessage]: ...
    def told(self, reader: User) -> list[str]: ...
    def closing(self, reader: User, *, is_of_many: bool) -> list[str]: ...
    def for_calendar(self, reader: User) -> list[OutboxMessage]: ...
    def line(self, reader: User) -> str: ...
    def entry(self, reader: User) -> OutboxMessage: ...


class Off:
    """A meeting that is called off. Its instructor reads of it as the instructor."""

    heading = "Called off"

    def __init__(self, one: CalledOff, away: User, calendars: Calendars, now: datetime) -> None:
        self.one, self._calendars, self._now = one, calendars, now
        self.meeting, self.was_at = one.meeting, one.meeting.starts_at
        self._booked, self._waiting = by_reader(one.bookings, now), by_reader(one.waiting, now)
        self.readers = [one for one in {**self._booked, **self._waiting} if one != away]
        self.post = MeetingPost(one.meeting, [*self.readers, away], now)

    def alone(self, reader: User) -> list[OutboxMessage]:
        booked = self._booked.get(reader, [])
        opening = sentences(self._opening(reader), no_charge(booked), self._owed(reader))
        told = [opening, why_called_off(self.meeting), times(self.meeting, reader)]
        return [cancelled(self.post, reader, told)]

    def told(self, reader: User) -> list[str]:
        opening = sentences(self._opening(reader), self._owed(reader))
        return [opening, times(self.meeting, reader)]

    def _opening(self, reader: User) -> str:
        booked, waiting = self._booked.get(reader, []), self._waiting.get(reader, [])
        propose = f"{self.meeting.instructor} will propose other times."
        return sentences(
            what_is_off(self.meeting, reader, booked, waiting),
            propose if self.one.will_propose else "",
        )

    def _owed(self, reader: User) -> str:
        return what_is_owed(self.one.owed) if reader in self._booked else ""

    def closing(self, reader: User, *, is_of_many: bool) -> list[str]:
        charge = no_charge(self._booked.get(reader, []), is_of_many=is_of_many)
        said = [charge, why_called_off(self.meeting)]
        return [sentence for sentence in said if sentence]

    def for_calendar(self, reader: User) -> list[OutboxMessage]:
        meeting = self.meeting
        if (meeting.pk, reader.pk) not in self._calendars:
            return []
        told = f"The attached entry cancels this {called(meeting)}: {named(meeting)}."
        start = short_time(meeting.starts_at, reader.zone)
        entry = self.post.cancel(
            reader,
            f"For your calendar: {named(meeting)}, {start}",
            email_text(reader.name, [told, times(meeting, reader)]),
            whole=True,
            state_key=f"called-off:{meeting.sequence}",
        )
        return [entry]

    def line(self, reader: User) -> str:
        meeting, bookings = self.meeting, self.one.bookings
        if meeting.offering.is_one_on_one and bookings:
            return teaching_line(bookings[0], reader, self._now)
        return f"  {short_time(meeting.starts_at, reader.zone)}: {named(meeting, reader)}"

    def entry(self, reader: User) -> OutboxMessage:
        return off_for_instructor(self.post, reader)


class Handed:
    """A lesson that a substitute takes."""

    heading = "With a substitute"

    def __init__(self, one: Covered, calendars: Calendars, now: datetime) -> None:
        self.one, self._calendars, self._now = one, calendars, now
        self.meeting, self.was_at = one.booking.meeting, one.booking.starts_at
        self.readers = list(by_reader([one.booking], now))

    def alone(self, reader: User) -> list[OutboxMessage]:
        return covered_alone(self.one.booking, self.one.before, reader, self._now)

    def told(self, reader: User) -> list[str]:
        booking = self.one.booking
        return [
            who_teaches(booking, self.one.before, reader),
            times(self.meeting, reader),
            *what_to_know(self.meeting, reader, [booking], self._now),
        ]

    def closing(self, _reader: User, *, is_of_many: bool) -> list[str]:
        return [SILENCE_ON_MANY if is_of_many else SILENCE]

    def for_calendar(self, reader: User) -> list[OutboxMessage]:
        return covered_in_calendar(self.one.booking, reader, self._calendars, self._now)

    def line(self, reader: User) -> str:
        return to_whom(self.one.booking, reader, self._now)

    def entry(self, reader: User) -> OutboxMessage:
        return gives_up(self.one.booking, reader, self._now)


class Shifted:
    """A lesson that moves to another start with the same instructor."""

    heading = "Moved"

    def __init__(self, one: MovedLesson, calendars: Calendars, now: datetime) -> None:
        self.one, self._calendars, self._now = one, calendars, now
        self.meeting, self.was_at = one.booking.meeting, one.old_starts_at
        self.readers = list(by_reader([one.booking], now))
        away = instructor_reader(self.meeting)
        self.post = MeetingPost(self.meeting, [*self.readers, away], now)

    def alone(self, reader: User) -> list[OutboxMessage]:
        booking = self.one.booking
        return invited(
            self.post,
            reader,
            [booking],
            title="Moved",
            opening=has_moved(booking, reader, self.one.old_starts_at),
            partstat=booking.partstat,
        )

    def told(self, reader: User) -> list[str]:
        booking = self.one.booking
        return [
            has_moved(booking, reader, self.one.old_starts_at),
            times(self.meeting, reader),
            *what_to_know(self.meeting, reader, [booking], self._now),
        ]

    def closing(self, _reader: User, *, is_of_many: bool) -> list[str]:
        return []

    def for_calendar(self, reader: User) -> list[OutboxMessage]:
        if (self.meeting.pk, reader.pk) in self._calendars:
            return moved_in_calendar(self.post, self.one.booking, reader)
        return reminders(self.post, reader, [self.one.booking])

    def line(self, reader: User) -> str:
        was = short_time(self.was_at, reader.zone)
        return f"{teaching_line(self.one.booking, reader, self._now)}, moved from {was}"

    def entry(self, reader: User) -> OutboxMessage:
        return moved_for_instructor(self.post, self.one.booking, self.was_at)


def calendars_follow(entries: int, *, of: int, each: str) -> str:
    """How many calendar emails follow an email about `of` meetings; empty where none does.

    A lesson of a weekly place may never have been mailed to a calendar.
    """
    if entries >= of:
        return f"One more email for {each} brings your calendar up to date."
    verb = "brings" if entries == 1 else "bring"
    more = counted(entries, "more email").capitalize()
    return f"{more} {verb} your calendar up to date." if entries else ""
