"""Emails about a stretch of hours that an instructor cannot teach: one for each family.

A calendar email has one UID (RFC 5546 section 3.2). What is told alone is told by it. Several
things are told together, and each that stands in a calendar is sent there in an email that says no
more than that.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from accounts.models import Instructor, User
from bookings.models import Booking, OutboxMessage, ProposedTimes, SentSequence
from bookings.notices.clearing_parts import (
    CalledOff,
    Handed,
    MovedLesson,
    Off,
    Part,
    Shifted,
    calendars_follow,
)
from bookings.notices.clearing_teachers import to_who_is_away
from bookings.notices.cover_teachers import to_teachers
from bookings.notices.covering import Covered
from bookings.notices.people import by_reader
from bookings.notices.proposed_times import how_times_ended, times_ended
from bookings.notices.rows import MeetingPost
from bookings.notices.wording import called, email_text, listed, short_time


@dataclass(frozen=True, slots=True)
class Cleared:
    """What became of the meetings of one instructor, as they are now."""

    instructor: Instructor
    called_off: Sequence[CalledOff] = ()
    covered: Sequence[Covered] = ()
    moved: Sequence[MovedLesson] = ()
    ended: Sequence[ProposedTimes] = ()


def hours_cleared(cleared: Cleared, *, now: datetime) -> list[OutboxMessage]:
    """Tells each family, the instructor, and whoever takes a lesson: each in one email."""
    calendars, away = _calendars_of(cleared), cleared.instructor.user
    parts: list[Part] = [
        *(Off(one, away, calendars, now) for one in cleared.called_off),
        *(Handed(one, calendars, now) for one in cleared.covered),
        *(Shifted(one, calendars, now) for one in cleared.moved),
    ]
    parts.sort(key=lambda part: part.was_at)
    families: dict[User, list[Part]] = {}
    for part in parts:
        for reader in part.readers:
            families.setdefault(reader, []).append(part)
    ended = by_reader(cleared.ended, now)
    messages: list[OutboxMessage] = []
    for reader, theirs in families.items():
        messages += _to_family(reader, theirs, ended.pop(reader, []), now)
    for reader, proposals in ended.items():
        messages += [times_ended(proposal, reader, now) for proposal in proposals]
    messages += to_who_is_away(away, parts, now)
    return messages + _to_substitutes(cleared, calendars, now)


def _calendars_of(cleared: Cleared) -> set[tuple[int, int]]:
    """(meeting, reader), by id, of everything that stands in a calendar."""
    ids = [one.meeting.pk for one in cleared.called_off]
    ids += [one.booking.meeting_id for one in cleared.covered]
    ids += [one.booking.meeting_id for one in cleared.moved]
    sent = SentSequence.objects.filter(meeting__in=ids)
    return set(sent.values_list("meeting_id", "recipient_id"))


def _to_family(
    reader: User, parts: Sequence[Part], ended: Sequence[ProposedTimes], now: datetime
) -> list[OutboxMessage]:
    if len(parts) == 1 and not ended:
        return parts[0].alone(reader)
    messages = [message for part in parts for message in part.for_calendar(reader)]
    told = _told_together(reader, parts)
    told += [paragraph for proposal in ended for paragraph in how_times_ended(proposal, reader)]
    entries = sum(bool(message.method) for message in messages)
    told.append(calendars_follow(entries, of=len(parts), each="each of these"))
    first = parts[0]
    together = MeetingPost(first.meeting, [reader], now).tell(
        reader,
        f"cleared:{first.meeting.sequence}",
        f"{_what(parts)}, from {short_time(first.was_at, reader.zone)}",
        email_text(reader.name, told),
    )
    return [together, *messages]


def _told_together(reader: User, parts: Sequence[Part]) -> list[str]:
    """What is called off, what has a substitute and what moves: each with what it means."""
    told: list[str] = []
    for heading in dict.fromkeys(part.heading for part in parts):
        alike = [part for part in parts if part.heading == heading]
        told += [paragraph for part in alike for paragraph in part.told(reader)]
        closing = [part.closing(reader, is_of_many=len(alike) > 1) for part in alike]
        told += dict.fromkeys(sentence for sentences in closing for sentence in sentences)
    return told


def _what(parts: Sequence[Part]) -> str:
    """ "Called off: 2 lessons", "Changed: 2 lessons and 1 meeting"."""
    kinds = Counter(sorted(called(part.meeting) for part in parts))
    counts = [f"{number} {kind}{'' if number == 1 else 's'}" for kind, number in kinds.items()]
    is_off = all(part.meeting.is_cancelled for part in parts)
    return f"{'Called off' if is_off else 'Changed'}: {listed(counts)}"


def _to_substitutes(
    cleared: Cleared, calendars: set[tuple[int, int]], now: datetime
) -> list[OutboxMessage]:
    in_order = sorted(cleared.covered, key=lambda one: one.booking.starts_at)
    before: dict[Booking, Instructor] = {one.booking: one.before for one in in_order}
    away = cleared.instructor.user
    return to_teachers(before, by_reader(before, now), calendars, now, told_already=away)
