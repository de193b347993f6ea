"""Weekly places taken, left and moved: one message to each reader for one change, however many lessons and children it concerns.

Plain words: a calendar's REQUEST holds one UID (RFC 5546 section 3.2.2), and a term has as many as it has lessons. The feed
shows them all; later changes of one lesson go out as they do for any other, and so does then its end.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from accounts.models import User
from bookings.domain.hours import WEEKDAYS
from bookings.domain.policy import quiet_until
from bookings.domain.terms import ShiftRun, shift_runs
from bookings.domain.zones import place as place_of
from bookings.models import Booking, OutboxMessage, SentSequence, WeeklyPlace
from bookings.notices.families import reminders
from bookings.notices.people import (
    as_taught,
    by_reader,
    hears_from,
    names,
    of_age_later,
    short_name,
)
from bookings.notices.places import booking_ended
from bookings.notices.rows import MeetingPost, row
from bookings.notices.wording import TEACHING, have, letter, link, short_time, whose
from bookings.outbox import MessageKind

TOLD_AHEAD = timedelta(days=7)
"""How long before the first lesson at another hour its family is told."""


@dataclass(frozen=True, slots=True)
class Taken:
    """A place just taken and the bookings made for it, by start."""

    place: WeeklyPlace
    bookings: Sequence[Booking]


@dataclass(frozen=True, slots=True)
class Left:
    """A place just left: the bookings that ended with it, and those that stay because the notice had passed."""

    place: WeeklyPlace
    ended: Sequence[Booking]
    kept: Sequence[Booking]


def weekly_changed(
    *, left: Sequence[Left] = (), taken: Sequence[Taken] = (), said: str = "", now: datetime
) -> list[OutboxMessage]:
    """What each family and the instructor read about it, with the reminders of new lessons and the shifts told ahead.

    `said` is the sentence that tells all of them why.
    """
    changes: list[Left | Taken] = [*left, *taken]
    what = "moved" if left and taken else "left" if left else "made"
    messages: list[OutboxMessage] = []

    def tell(reader: User, newest: Left | Taken, body: str, *, named: bool) -> None:
        subject, title = f"weekly-place:{newest.place.pk}", _title(what, newest.place, named=named)
        meeting = next(
            (booking.meeting for booking in _bookings(newest)), None
        )  # it revises the feeds of who is told
        messages.append(
            row(
                reader,
                MessageKind.TOLD,
                subject,
                what,
                title=title,
                body=body,
                now=now,
                meeting=meeting,
            )
        )

    for reader, places in by_reader([change.place for change in changes], now).items():
        hers = [change for change in changes if change.place in places]
        tell(reader, hers[-1], letter(reader.name, [*_to_family(hers, reader), said]), named=True)
        for change in hers:
            if isinstance(change, Taken):
                messages += _later(change, reader, now)
    instructor = changes[-1].place.instructor.user
    told = [text for change in changes for text in _to_instructor(change, instructor, now)]
    tell(
        instructor,
        changes[-1],
        letter(instructor.name, [*told, said], changes=TEACHING),
        named=False,
    )
    return messages + _called_off(left, now)


def _called_off(left: Sequence[Left], now: datetime) -> list[OutboxMessage]:
    """Lessons that calendars were sent, for they had been changed by themselves, end there too, at another instructor's as well."""
    ended = {booking.meeting_id: booking for change in left for booking in change.ended}
    sent = (
        SentSequence.objects.filter(meeting__in=ended)
        .order_by("meeting")
        .values_list("meeting", flat=True)
        .distinct()
    )
    return [message for meeting_id in sent for message in booking_ended(ended[meeting_id], now=now)]


def _bookings(change: Left | Taken) -> Sequence[Booking]:
    return change.bookings if isinstance(change, Taken) else [*change.ended, *change.kept]


def _later(taken: Taken, reader: User, now: datetime) -> list[OutboxMessage]:
    """The reminders of each lesson, and the shifts told ahead."""
    messages = []
    for booking in taken.bookings:
        messages += reminders(MeetingPost(booking.meeting, [], now, is_new=True), reader, [booking])
    return messages + shifts_ahead(taken, reader, now)


def shifts_ahead(
    taken: Taken, reader: User, now: datetime, *, told_on: str = "", rules: str = ""
) -> list[OutboxMessage]:
    """One message for each run of shifts that does not begin within a week; a child with an account gets those that are due
    once of age.

    `told_on` is the zone her clock showed so far, if another; `rules` sets a message apart from one that older zone rules gave.
    """
    readers = dict.fromkeys([*of_age_later([taken.place], now), reader])
    return [
        message
        for one in readers
        for message in _shifts_to(taken, one, now, told_on=told_on, rules=rules)
    ]


def _shifts_to(
    taken: Taken, reader: User, now: datetime, *, told_on: str, rules: str
) -> list[OutboxMessage]:
    messages = []
    since = hears_from(reader, [taken.place], now) or now
    meetings = {booking.starts_at: booking.meeting for booking in taken.bookings}
    for run in shift_runs(list(meetings), reader.zone):
        starts_at = run.shifts[0].starts_at
        if (
            quiet_until(starts_at - TOLD_AHEAD, told_on) if told_on else starts_at - TOLD_AHEAD
        ) <= now:
            continue  # the message about the place itself says it
        due_at = quiet_until(max(starts_at - TOLD_AHEAD, since), reader.zone)
        if due_at >= starts_at:
            continue
        said = _in_words(run, reader, taken)
        messages.append(
            row(
                reader,
                MessageKind.SHIFT,
                f"weekly-place:{taken.place.pk}",
                f"from:{starts_at:%Y%m%d}{rules and f':{rules}'}",
                title=f"New local time from {_day(run.shifts[0].on)}: {_called(taken.place, named=True)}",
                body=letter(reader.name, [said, _why(taken.place, reader)]),
                now=now,
                meeting=meetings[starts_at],
                due_at=due_at,
                good_until=starts_at,
            )
        )
    return messages


def _to_family(changes: Iterable[Left | Taken], reader: User) -> list[str]:
    told = []
    for change in changes:
        place, people = change.place, names(reader, [change.place])
        if isinstance(change, Left):
            told.append(
                f"{whose(people)} weekly place has ended: {_called(place, named=True)}, {_weekly(place)}."
            )
            told += _ended_and_kept(change, reader.zone, place.zone)
            continue
        told.append(
            f"{have(people)} a weekly place: {_called(place, named=True)}, {_weekly(place)}, {place.term}."
        )
        told.append(_listed(change.bookings, reader.zone, place.zone))
        runs = shift_runs([booking.starts_at for booking in change.bookings], reader.zone)
        told += [_in_words(run, reader, change) for run in runs]
        told += [_why(place, reader)] if runs else []
        told.append(
            f"The lessons appear in the calendar you subscribe to: {link('/calendars/')}\nEach can be moved or cancelled by itself."
        )
    return told


def _to_instructor(change: Left | Taken, instructor: User, now: datetime) -> list[str]:
    place = change.place
    who = as_taught(place.student, now)
    if isinstance(change, Left):
        return [
            f"{who}, has given up the weekly place {_weekly(place)}.",
            *_ended_and_kept(change, instructor.zone, place.student.zone),
        ]
    opening = f"{who}, has a weekly place with you: {_called(place, named=False)}, {_weekly(place)}, {place.term}."
    return [opening, _listed(change.bookings, instructor.zone, place.student.zone)]


def _ended_and_kept(left: Left, time_zone: str, others_zone: str) -> list[str]:
    told = []
    if left.ended:
        told.append(f"These lessons are cancelled:\n{_listed(left.ended, time_zone, others_zone)}")
    if left.kept:
        told.append(
            f"The cancellation deadline for these has passed, so they stay booked:\n{_listed(left.kept, time_zone, others_zone)}"
        )
    return told


def _listed(bookings: Sequence[Booking], time_zone: str, others_zone: str) -> str:
    """One line a lesson, on both clocks where they differ."""
    zones = dict.fromkeys((time_zone, others_zone))
    return "\n".join(
        "  " + "; ".join(short_time(booking.starts_at, one) for one in zones)
        for booking in bookings
    )


def _in_words(run: ShiftRun, reader: User, taken: Taken) -> str:
    first, *more = run.shifts
    (person,) = names(reader, [taken.place])
    lesson = "your lesson" if person == "you" else f"{person}’s lesson"
    said = f"From {_day(first.on)} {lesson} starts at {first.after}, not {run.usual}, in {place_of(reader.zone)}"
    said += "".join(f", from {_day(shift.on)} at {shift.after}" for shift in more)
    if run.back is None:
        return f"{said}, until the end of the term on {_day(run.last_on)}."
    return f"{said}, until {_day(run.last_on)}; from {_day(run.back.on)} it starts at {run.back.after} again."


def _why(place: WeeklyPlace, reader: User) -> str:
    there, here = place_of(place.zone), place_of(reader.zone)
    return f"It stays at {_clock(place)} in {there}; the clocks there and in {here} do not change on the same dates."


def _title(what: str, place: WeeklyPlace, *, named: bool) -> str:
    begins = {
        "made": "A weekly place",
        "left": "A weekly place has ended",
        "moved": "A weekly place has moved",
    }[what]
    return f"{begins}: {_called(place, named=named)}, {_weekly(place)}"


def _called(place: WeeklyPlace, *, named: bool) -> str:
    return (
        f"{place.offering.name} with {short_name(place.instructor.user)}"
        if named
        else place.offering.name
    )


def _weekly(place: WeeklyPlace) -> str:
    return f"{WEEKDAYS[place.weekday]}s {_clock(place)}, {place_of(place.zone)}"


def _clock(place: WeeklyPlace) -> str:
    return f"{place.wall_at // 60:02}:{place.wall_at % 60:02}"


def _day(on: date) -> str:
    return f"{on.day} {on:%B}"
