"""Emails about meetings that have moved with new rules of a time zone.

A meeting keeps its hour in the zone in which it was promised. Readers elsewhere learn their new
hour. They also learn the old one where the rules of that time were kept: without them it is
unknown, because the rules of the reader's own zone may have changed too.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from accounts.models import User
from bookings.domain.zone_rules import ZoneRules
from bookings.domain.zones import TZDATA_VERSION, place, zone
from bookings.models import Booking, Meeting, OutboxMessage, SentSequence, WeeklyPlace
from bookings.notices.families import invited, reminders
from bookings.notices.people import as_taught, by_reader, instructor_reader, names
from bookings.notices.rows import MeetingPost, named, row
from bookings.notices.shifts import shifts_ahead
from bookings.notices.weekly_places import Taken
from bookings.notices.wording import (
    CHANGES,
    TEACHING,
    both_clocks,
    called,
    email_text,
    have,
    period,
    possessive,
    short_local,
    short_time,
)
from bookings.outbox import MessageKind

_TITLE = "New clock rules"


@dataclass(frozen=True, slots=True)
class Moved:
    """A meeting as it now stands, its old start, its held bookings, and the old rules if kept."""

    meeting: Meeting
    old_starts_at: datetime
    bookings: Sequence[Booking]
    old_rules: ZoneRules | None = None


def retimed(changes: Sequence[Moved], *, now: datetime) -> list[OutboxMessage]:
    """An invitation with the new time, for each meeting and reader, and its instructor.

    Lessons of a weekly place that are in no calendar are told in one email for the place.
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
    meeting, instructor = one.meeting, instructor_reader(one.meeting)
    readers = by_reader(one.bookings, now)
    post = MeetingPost(meeting, [*readers, instructor], now)
    messages: list[OutboxMessage] = []
    for reader, theirs in readers.items():
        torn = [booking for booking in theirs if booking.is_flagged]
        opening = [
            _rules(meeting, f"{possessive(names(reader, theirs))} {called(meeting)}"),
            _moved(one, reader),
            _torn(reader, torn),
        ]
        messages += invited(
            post,
            reader,
            theirs,
            title=_TITLE,
            opening="\n\n".join(filter(None, opening)),
            partstat=theirs[0].partstat,
        )
    if instructor not in readers:
        messages.append(_to_instructor(post, one))
    return messages


def _to_instructor(post: MeetingPost, one: Moved) -> OutboxMessage:
    meeting, instructor = one.meeting, instructor_reader(one.meeting)
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
    return post.invite(
        instructor, title, email_text(instructor.name, [*told, join], changes=TEACHING)
    )


def _weekly(lessons: Sequence[Moved], now: datetime) -> list[OutboxMessage]:
    """One email about all lessons of one weekly place, with their reminders and new shifts."""
    first, weekly_place = lessons[0].meeting, lessons[0].meeting.weekly_place
    if weekly_place is None:
        raise ValueError("these lessons belong to no weekly place")
    instructor = instructor_reader(first)
    messages: list[OutboxMessage] = []
    readers = by_reader([booking for one in lessons for booking in one.bookings], now)
    for reader, theirs in readers.items():
        whose = f"{possessive(names(reader, theirs))} weekly place"
        clashes = _torn(reader, [booking for booking in theirs if booking.is_flagged])
        messages.append(_about_place(lessons, reader, whose, clashes, CHANGES, now))
        for booking in theirs:
            post = MeetingPost(booking.meeting, [], now, is_new=True)
            messages += reminders(post, reader, [booking])
        ahead = _as_it_stands(weekly_place, now)
        messages += shifts_ahead(ahead, reader, now, rules=TZDATA_VERSION)
    if instructor not in readers:
        whose = f"The weekly place of {as_taught(weekly_place.student, now)},"
        clashes = _flagged([one.meeting for one in lessons])
        messages.append(_about_place(lessons, instructor, whose, clashes, TEACHING, now))
    return messages


def _about_place(
    lessons: Sequence[Moved], reader: User, whose: str, clashes: str, changes: str, now: datetime
) -> OutboxMessage:
    """`whose` begins a sentence: "Kit’s weekly place". `changes` is the page to change things."""
    first = lessons[0].meeting
    dates = "\n".join(f"  {period(one.meeting, reader.zone)}" for one in lessons)
    told = [_rules(first, whose), _moved(lessons[0], reader), f"The lessons:\n{dates}", clashes]
    return row(
        reader,
        MessageKind.TOLD,
        f"weekly-place:{first.weekly_place_id}",
        f"retimed:{TZDATA_VERSION}",
        title=f"{_TITLE}: {named(first, reader)}, from {short_time(first.starts_at, reader.zone)}",
        body=email_text(reader.name, told, changes=changes),
        now=now,
        meeting=first,
    )


def _as_it_stands(weekly_place: WeeklyPlace, now: datetime) -> Taken:
    """The weekly place with its bookings ahead."""
    ahead = Booking.objects.held().ahead(now).filter(meeting__weekly_place=weekly_place)
    rows = ahead.select_related("meeting", "student__user").order_by("starts_at")
    return Taken(weekly_place, list(rows))


def _rules(meeting: Meeting, whose: str) -> str:
    there, hour = place(meeting.zone), short_time(meeting.starts_at, meeting.zone)
    return f"{there}’s time-zone rules have changed. {whose} keeps its hour there: {hour}."


def _moved(one: Moved, reader: User) -> str:
    meeting, before = one.meeting, one.old_starts_at
    minutes = (meeting.starts_at - before) // timedelta(minutes=1)
    counted = f"{abs(minutes)} minutes {'later' if minutes > 0 else 'earlier'} than planned"
    was = one.old_rules.local(before, reader.zone) if one.old_rules is not None else None
    now_local = meeting.starts_at.astimezone(zone(reader.zone)).replace(tzinfo=None)
    if reader.zone == meeting.zone or was == now_local:
        return f"On your clock nothing changes. For people elsewhere it is {counted}."
    new = short_time(meeting.starts_at, reader.zone)
    if was is None:
        return f"That is {counted}. On your clock the hour is now: {new}."
    return f"That is {counted}: on your clock it moves from {short_local(was)} to {new}."


def _torn(reader: User, bookings: Sequence[Booking]) -> str:
    if not bookings:
        return ""
    return (
        f"{have(names(reader, bookings))} another meeting at the same time now. "
        "Both places are kept: please move or cancel one."
    )


def _flagged(meetings: Sequence[Meeting]) -> str:
    flagged = [
        short_time(meeting.starts_at, instructor_reader(meeting).zone)
        for meeting in meetings
        if meeting.is_flagged
    ]
    if not flagged:
        return ""
    return (
        f"It now overlaps another meeting ({'; '.join(flagged)}). "
        "Both are kept; the office will settle it with you."
    )
