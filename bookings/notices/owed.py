"""What a family reads of an owed lesson, in emails."""

from collections.abc import Iterable, Sequence
from datetime import datetime

from accounts.models import User
from bookings.domain.owed import CAUSES, date_in_words, limit_rule, used_until
from bookings.domain.vocabulary import Ended, OwedCause, OwedClosed
from bookings.domain.zones import place
from bookings.models import Booking, OutboxMessage, OwedLesson
from bookings.notices.people import by_reader, names
from bookings.notices.rows import row
from bookings.notices.wording import email_text, full_time, link, possessive
from bookings.outbox import MessageKind


def if_cancelled(bookings: Iterable[Booking]) -> str:
    """What a family reads beside "free of charge": whether such a lesson is made up."""
    for booking in bookings:
        if booking.makes_up_id is not None:
            return "A make-up lesson that is cancelled late or missed is not made up again."
        if booking.meeting.weekly_place_id is not None:
            return limit_rule(booking.policy.rules())
    return ""


def what_is_owed(owed: Iterable[OwedLesson]) -> str:
    """ "You are owed this lesson; book it by 12 June 2027 under My lessons." Empty for nothing."""
    for one in owed:
        by = date_in_words(one.use_by)
        return f"You are owed this lesson; book it by {by} under My lessons."
    return ""


def why_not_owed(booking: Booking, owed: OwedLesson | None) -> str:
    """What a family reads of a cancelled lesson of a weekly place, owed or not."""
    if owed is not None:
        return what_is_owed([owed])
    is_promised = booking.meeting.weekly_place_id is not None
    if is_promised and booking.ended_why == Ended.CANCELLED_IN_TIME:
        return (
            "You have used the lessons you may make up this term, so this one will not be made up."
        )
    return ""


def lesson_owed(owed: OwedLesson, *, now: datetime) -> list[OutboxMessage]:
    """What a family is owed for a lesson that the register says was not given."""
    messages = []
    for reader in by_reader([owed], now):
        told = f"{_whose(reader, owed)} lesson was not given: {owed.offering.name}"
        if owed.booking is not None:
            told += f", {full_time(owed.booking.starts_at, reader.zone)}"
        why = CAUSES[OwedCause(owed.cause)]
        title = f"You are owed a lesson, to use by {date_in_words(owed.use_by)}"
        told = f"{told}. Why: {why}."
        messages.append(_row(owed, reader, title, [told, what_is_owed([owed])], now))
    return messages


def owed_lapsed(lapsed: Sequence[OwedLesson], *, now: datetime) -> list[OutboxMessage]:
    """One email to each reader about the owed lessons that have lapsed."""
    messages = []
    for reader, theirs in by_reader(lapsed, now).items():
        told = [_lapsed(one, reader) for one in theirs]
        after = "If there was a good reason, please write to the school."
        title = "An owed lesson has lapsed"
        messages.append(_row(theirs[0], reader, title, [*told, after], now))
    return messages


def _lapsed(owed: OwedLesson, reader: User) -> str:
    what = f"{owed.offering.name}, {owed.minutes} minutes"
    return (
        f"{_whose(reader, owed)} owed lesson, {what}, was to be used by "
        f"{date_in_words(owed.use_by)}. It was not used, so it has lapsed."
    )


def owed_reminder_keys(owed: OwedLesson) -> tuple[str, str]:
    """The subject and state keys of the reminder that names this owed lesson."""
    return f"owed-lessons:{owed.student_id}", f"use-by:{owed.use_by.isoformat()}"


def owed_reminder(lessons: Sequence[OwedLesson], *, now: datetime) -> list[OutboxMessage]:
    """To each reader, that these lessons lapse soon, and where to book them.

    They are owed to one student and are to be used by one date.
    """
    first = lessons[0]
    ends_at = used_until(first.use_by, first.student.zone)
    messages = []
    for reader in by_reader(lessons, now):
        title, told = _reminded(lessons, reader)
        messages.append(
            row(
                reader,
                MessageKind.OWED_REMINDER,
                *owed_reminder_keys(first),
                title=title,
                body=email_text(reader.name, told),
                now=now,
                good_until=ends_at,
            )
        )
    return messages


def _reminded(lessons: Sequence[OwedLesson], reader: User) -> tuple[str, list[str]]:
    first = lessons[0]
    whose, by, where = _whose(reader, first), date_in_words(first.use_by), place(first.student.zone)
    if len(lessons) == 1:
        title = f"{whose} owed lesson: book it by {by}"
        told = f"{whose} owed lesson is not booked yet. Book it by {by}: after that date it lapses."
        begins = f"The make-up lesson has to begin by the end of that date ({where})."
        page = f"/times/?student={first.student_id}&owed={first.pk}"
    else:
        title = f"{whose} owed lessons: book them by {by}"
        told = (
            f"{whose} owed lessons are not booked yet. Book them by {by}: after that date they "
            "lapse."
        )
        begins = f"Each make-up lesson has to begin by the end of that date ({where})."
        page = f"/my-lessons/?student={first.student_id}"
    what = "\n".join(f"  {_for_which(owed, reader)}" for owed in lessons)
    after = "If no time suits, please write to the school before then."
    return title, [told, what, begins, f"Choose a time: {link(page)}", after]


def _for_which(owed: OwedLesson, reader: User) -> str:
    what = f"{owed.offering.name}, {owed.minutes} minutes"
    if owed.booking is None:
        return what
    return f"{what}, for the lesson of {full_time(owed.booking.starts_at, reader.zone)}"


def owed_changed(owed: OwedLesson, *, now: datetime) -> list[OutboxMessage]:
    """What the school has decided about an owed lesson, with its reason, to each reader."""
    messages = []
    for reader in by_reader([owed], now):
        title, told = _decided(owed, reader)
        messages.append(_row(owed, reader, title, [told, f"Why: {owed.reason}"], now))
    return messages


def _decided(owed: OwedLesson, reader: User) -> tuple[str, str]:
    what = f"{owed.offering.name}, {owed.minutes} minutes"
    if owed.closed_how == OwedClosed.BY_HAND:
        told = f"{_whose(reader, owed)} owed lesson has been settled by the school: {what}."
        return "An owed lesson has been settled", told
    by = date_in_words(owed.use_by)
    told = f"{_whose(reader, owed)} owed lesson, {what}, can be used until {by}."
    return f"An owed lesson, to use by {by}", told


def _whose(reader: User, owed: OwedLesson) -> str:
    return possessive(names(reader, [owed]))


def _row(
    owed: OwedLesson, reader: User, title: str, told: Iterable[str], now: datetime
) -> OutboxMessage:
    return row(
        reader,
        MessageKind.TOLD,
        f"owed-lesson:{owed.pk}",
        f"version:{owed.version}",
        title=title,
        body=email_text(reader.name, told),
        now=now,
    )
