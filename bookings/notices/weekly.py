"""Emails about weekly places: one for each change and reader, however many lessons it concerns.

They have no calendar part, because a REQUEST has one UID (RFC 5546 section 3.2.2) and every lesson
has its own. The feed shows them all. A later change of one lesson is sent like that of any meeting,
and so is the end of such a lesson.
"""

from collections.abc import Iterable, Sequence
from datetime import datetime

from accounts.models import User
from bookings.domain.owed import limit_rule
from bookings.domain.terms import shift_runs
from bookings.models import Booking, OutboxMessage, SentSequence, WeeklyPlace
from bookings.notices.families import reminders
from bookings.notices.people import as_taught, by_reader, names
from bookings.notices.places import booking_ended
from bookings.notices.rows import MeetingPost, row
from bookings.notices.shifts import shift_in_words, shifts_ahead, why_shifted
from bookings.notices.weekly_places import Left, Taken, weekly_time, what_it_is
from bookings.notices.wording import TEACHING, email_text, have, link, possessive, short_time
from bookings.outbox import MessageKind


def weekly_changed(
    *,
    left: Sequence[Left] = (),
    taken: Sequence[Taken] = (),
    said: str = "",
    to_families: str = "",
    now: datetime,
) -> list[OutboxMessage]:
    """One email to each family and each instructor, with reminders and shifts of new lessons.

    `said` is a sentence for all of them, `to_families` one for families alone.
    """
    changes: list[Left | Taken] = [*left, *taken]
    messages: list[OutboxMessage] = []
    for reader, places in by_reader([change.place for change in changes], now).items():
        theirs = [change for change in changes if change.place in places]
        body = email_text(reader.name, [*_to_family(theirs, reader), to_families, said])
        messages.append(_told(reader, theirs, body, is_family=True, now=now))
        for change in theirs:
            if isinstance(change, Taken):
                messages += _reminders_and_shifts(change, reader, now)
    for instructor in dict.fromkeys(change.place.instructor for change in changes):
        theirs = [change for change in changes if change.place.instructor == instructor]
        told = [text for change in theirs for text in _to_instructor(change, instructor.user, now)]
        body = email_text(instructor.user.name, [*told, said], changes=TEACHING)
        messages.append(_told(instructor.user, theirs, body, is_family=False, now=now))
    return messages + _called_off(left, now)


def _told(
    reader: User, changes: Sequence[Left | Taken], body: str, *, is_family: bool, now: datetime
) -> OutboxMessage:
    """One email about all of these changes, named by the newest."""
    newest, state = changes[-1], _state(changes)
    return row(
        reader,
        MessageKind.TOLD,
        f"weekly-place:{newest.place.pk}",
        state,
        title=_title(state, newest.place, named=is_family),
        body=body,
        now=now,
        # A meeting lets the message revise its reader's feeds.
        meeting=next((booking.meeting for booking in _bookings(newest)), None),
    )


def _state(changes: Sequence[Left | Taken]) -> str:
    """What has happened: a place was made, left, or moved."""
    is_left = any(isinstance(change, Left) for change in changes)
    is_taken = any(isinstance(change, Taken) for change in changes)
    return "moved" if is_left and is_taken else "left" if is_left else "made"


def _called_off(left: Sequence[Left], now: datetime) -> list[OutboxMessage]:
    """The end of lessons that are in calendars, because they had been changed by themselves."""
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


def _reminders_and_shifts(taken: Taken, reader: User, now: datetime) -> list[OutboxMessage]:
    """The reminders of each lesson, and the emails ahead of shifts."""
    messages = []
    for booking in taken.bookings:
        messages += reminders(MeetingPost(booking.meeting, [], now, is_new=True), reader, [booking])
    return messages + shifts_ahead(taken, reader, now)


def _to_family(changes: Iterable[Left | Taken], reader: User) -> list[str]:
    told = []
    for change in changes:
        place, people = change.place, names(reader, [change.place])
        if isinstance(change, Left):
            told.append(
                f"{possessive(people)} weekly place has ended: "
                f"{what_it_is(place, named=True)}, {weekly_time(place)}."
            )
            told += _ended_and_kept(change, reader.zone, place.zone)
            continue
        told.append(
            f"{have(people)} a weekly place: "
            f"{what_it_is(place, named=True)}, {weekly_time(place)}, {place.term}."
        )
        told.append(_listed(change.bookings, reader.zone, place.zone))
        told += [_passed_on(change.passed)] if change.passed else []
        runs = shift_runs([booking.starts_at for booking in change.bookings], reader.zone)
        told += [shift_in_words(run, reader, change) for run in runs]
        told += [why_shifted(place, reader)] if runs else []
        told.append(
            f"The lessons appear in the calendar you subscribe to: {link('/calendars/')}\n"
            f"Each can be moved or cancelled by itself. {limit_rule(place.policy.rules())}"
        )
    return told


def _passed_on(count: int) -> str:
    """That the new place gives what was owed for the old one."""
    since = "owed to you since your last weekly place ended"
    if count == 1:
        return f"One of these was {since}. It is not owed any more."
    return f"{count} of these were {since}. They are not owed any more."


def _to_instructor(change: Left | Taken, instructor: User, now: datetime) -> list[str]:
    place = change.place
    who = as_taught(place.student, now)
    if isinstance(change, Left):
        return [
            f"{who}, has given up the weekly place {weekly_time(place)}.",
            *_ended_and_kept(change, instructor.zone, place.student.zone),
        ]
    opening = (
        f"{who}, has a weekly place with you: "
        f"{what_it_is(place, named=False)}, {weekly_time(place)}, {place.term}."
    )
    return [opening, _listed(change.bookings, instructor.zone, place.student.zone)]


def _ended_and_kept(left: Left, time_zone: str, others_zone: str) -> list[str]:
    told = []
    if left.ended:
        told.append(f"These lessons are cancelled:\n{_listed(left.ended, time_zone, others_zone)}")
    if left.kept:
        kept = _listed(left.kept, time_zone, others_zone)
        told.append(f"The cancellation deadline for these has passed, so they stay booked:\n{kept}")
    return told


def _listed(bookings: Sequence[Booking], time_zone: str, others_zone: str) -> str:
    """One line for each lesson, in both zones where they differ."""
    zones = dict.fromkeys((time_zone, others_zone))
    return "\n".join(
        "  " + "; ".join(short_time(booking.starts_at, one) for one in zones)
        for booking in bookings
    )


def _title(what: str, place: WeeklyPlace, *, named: bool) -> str:
    begins = {
        "made": "A weekly place",
        "left": "A weekly place has ended",
        "moved": "A weekly place has moved",
    }[what]
    return f"{begins}: {what_it_is(place, named=named)}, {weekly_time(place)}"
