"""A zone's rules have changed and a meeting has moved with them: what each reader is told, and in whose clock.

What stays is the hour on the clock that the meeting was promised on. Which hour a reader was told before is known where the
rules of that time were kept, for the rules of her own clock may have changed too; otherwise she is told the new one alone.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from accounts.models import User
from bookings.domain.vocabulary import Standing
from bookings.domain.zone_rules import ZoneRules
from bookings.domain.zones import TZDATA_VERSION, place, zone
from bookings.models import Booking, Meeting, OutboxMessage, SentSequence, WeeklyPlace
from bookings.notices.families import invited, reminders
from bookings.notices.people import as_taught, by_reader, instructor_of, names
from bookings.notices.rows import MeetingPost, named, row
from bookings.notices.weekly import Taken, shifts_ahead
from bookings.notices.wording import (
    TEACHING,
    both_clocks,
    called,
    have,
    letter,
    period,
    short_local,
    short_time,
    whose,
)
from bookings.outbox import MessageKind

_TITLE = "New clock rules"


@dataclass(frozen=True, slots=True)
class Moved:
    """A meeting as it now stands, when it started before, its held bookings, and the rules by which it was told, if they were kept."""

    meeting: Meeting
    old_starts_at: datetime
    bookings: Sequence[Booking]
    old_rules: ZoneRules | None = None


def retimed(changes: Sequence[Moved], *, now: datetime) -> list[OutboxMessage]:
    """One message to each reader and one to the instructor for each meeting, with the entry changed in their calendars.

    A weekly place's lessons that no calendar was sent by mail are told in one message, as when the place was taken.
    """
    sent = set(
        SentSequence.objects.filter(meeting__in=[one.meeting.pk for one in changes]).values_list(
            "meeting_id", flat=True
        )
    )
    weekly: dict[int, list[Moved]] = {}
    messages: list[OutboxMessage] = []
    for one in changes:
        if one.meeting.weekly_place_id is None or one.meeting.pk in sent:
            messages += _one(one, now)
        else:
            weekly.setdefault(one.meeting.weekly_place_id, []).append(one)
    for lessons in weekly.values():
        messages += _weekly(lessons, now)
    return messages


def _one(one: Moved, now: datetime) -> list[OutboxMessage]:
    meeting, instructor = one.meeting, instructor_of(one.meeting)
    readers = by_reader(one.bookings, now)
    post = MeetingPost(meeting, [*readers, instructor], now)
    messages: list[OutboxMessage] = []
    for reader, hers in readers.items():
        torn = [booking for booking in hers if booking.is_flagged]
        opening = [
            _rules(meeting, f"{whose(names(reader, hers))} {called(meeting)}"),
            _moved(one, reader),
            _torn(reader, torn),
        ]
        messages += invited(
            post,
            reader,
            hers,
            title=_TITLE,
            opening="\n\n".join(filter(None, opening)),
            partstat=hers[0].partstat,
        )
    if instructor not in readers:
        messages.append(_to_instructor(post, one))
    return messages


def _to_instructor(post: MeetingPost, one: Moved) -> OutboxMessage:
    meeting, instructor = one.meeting, instructor_of(one.meeting)
    who, clocks = "A meeting you teach", f"  {period(meeting, instructor.zone)}"
    if meeting.offering.is_one_on_one and one.bookings:
        student = one.bookings[0].student
        who = f"The meeting of {as_taught(student, post.now)},"
        clocks = both_clocks(meeting, instructor, student.zone, student.first_name)
    told = [_rules(meeting, who), _moved(one, instructor), clocks, _flagged([meeting])]
    join = f"Join here: {meeting.join_address}" if meeting.join_address else ""
    title = (
        f"{_TITLE}: {named(meeting, instructor)}, {short_time(meeting.starts_at, instructor.zone)}"
    )
    return post.invite(instructor, title, letter(instructor.name, [*told, join], changes=TEACHING))


def _weekly(lessons: Sequence[Moved], now: datetime) -> list[OutboxMessage]:
    """One message for all the lessons of one weekly place, the reminders of each, and the shifts that the new rules bring."""
    first, weekly_place = lessons[0].meeting, lessons[0].meeting.weekly_place
    if weekly_place is None:
        raise ValueError("these lessons are no weekly place's")
    instructor = instructor_of(first)
    messages: list[OutboxMessage] = []

    def tell(reader: User, who: str, *more: str, changes: dict[str, str]) -> None:
        dates = "\n".join(f"  {period(one.meeting, reader.zone)}" for one in lessons)
        body = letter(
            reader.name,
            [_rules(first, who), _moved(lessons[0], reader), f"The lessons:\n{dates}", *more],
            **changes,
        )
        title = f"{_TITLE}: {named(first, reader)}, from {short_time(first.starts_at, reader.zone)}"
        subject = f"weekly-place:{weekly_place.pk}"
        messages.append(
            row(
                reader,
                MessageKind.TOLD,
                subject,
                f"retimed:{TZDATA_VERSION}",
                title=title,
                body=body,
                now=now,
                meeting=first,
            )
        )

    held = {booking.pk: (one, booking) for one in lessons for booking in one.bookings}
    readers = by_reader([booking for _, booking in held.values()], now)
    for reader, hers in readers.items():
        torn = _torn(reader, [booking for booking in hers if booking.is_flagged])
        tell(reader, f"{whose(names(reader, hers))} weekly place", torn, changes={})
        for booking in hers:
            messages += reminders(
                MeetingPost(booking.meeting, [], now, is_new=True), reader, [booking]
            )
        messages += shifts_ahead(
            _as_it_stands(weekly_place, now), reader, now, rules=TZDATA_VERSION
        )
    if instructor not in readers:
        student = as_taught(weekly_place.student, now)
        tell(
            instructor,
            f"The weekly place of {student},",
            _flagged([one.meeting for one in lessons]),
            changes={"changes": TEACHING},
        )
    return messages


def _as_it_stands(weekly_place: WeeklyPlace, now: datetime) -> Taken:
    ahead = Booking.objects.filter(
        meeting__weekly_place=weekly_place, standing=Standing.HELD, starts_at__gt=now
    )
    return Taken(
        weekly_place, list(ahead.select_related("meeting", "student__user").order_by("starts_at"))
    )


def _rules(meeting: Meeting, who: str) -> str:
    there = place(meeting.zone)
    return f"{there}’s time-zone rules have changed. {who} keeps its hour there: {short_time(meeting.starts_at, meeting.zone)}."


def _moved(one: Moved, reader: User) -> str:
    meeting, before = one.meeting, one.old_starts_at
    minutes = (meeting.starts_at - before) // timedelta(minutes=1)
    counted = f"{abs(minutes)} minutes {'later' if minutes > 0 else 'earlier'} than planned"
    was = one.old_rules.local(before, reader.zone) if one.old_rules is not None else None
    if reader.zone == meeting.zone or was == meeting.starts_at.astimezone(
        zone(reader.zone)
    ).replace(tzinfo=None):
        return f"On your clock nothing changes. For people elsewhere it is {counted}."
    new = short_time(meeting.starts_at, reader.zone)
    if was is None:
        return f"That is {counted}. On your clock the hour is now: {new}."
    return f"That is {counted}: on your clock it moves from {short_local(was)} to {new}."


def _torn(reader: User, bookings: Sequence[Booking]) -> str:
    if not bookings:
        return ""
    return f"{have(names(reader, bookings))} another meeting at the same time now. Both places are kept: please move or cancel one."


def _flagged(meetings: Sequence[Meeting]) -> str:
    flagged = [
        short_time(meeting.starts_at, instructor_of(meeting).zone)
        for meeting in meetings
        if meeting.is_flagged
    ]
    if not flagged:
        return ""
    return f"It now overlaps another meeting ({'; '.join(flagged)}). Both are kept; the office will settle it with you."
