"""Emails about proposed times. They have no calendar part: nothing is agreed yet."""

from collections.abc import Iterable, Sequence
from datetime import datetime

from accounts.models import User
from bookings.domain.vocabulary import Ended
from bookings.models import Booking, OutboxMessage, ProposedTimes
from bookings.notices.families import times as both_times
from bookings.notices.people import as_taught, by_reader, names, readers_of, short_name
from bookings.notices.rows import row
from bookings.notices.wording import (
    TEACHING,
    email_text,
    full_time,
    link,
    listed,
    period,
    short_time,
)
from bookings.outbox import MessageKind


def times_proposed(
    proposed: Iterable[tuple[ProposedTimes, Sequence[Booking]]], *, now: datetime
) -> list[OutboxMessage]:
    """One email to each reader of the families, however many students it is about: the times, until
    when, and a link to answer for each student.
    """
    times = dict(proposed)
    messages = []
    for reader, theirs in by_reader(times, now).items():
        told = [part for one in theirs for part in _asked(one, times[one], reader)]
        after = "Until then the times are kept for you. Nothing is booked before you choose."
        first = min(theirs, key=lambda one: one.answer_by)
        what = _named(first) if len(theirs) == 1 else listed(names(reader, theirs))
        title = f"Times proposed for {what}: please answer by {_short(first, reader)}"
        messages.append(
            row(
                reader,
                MessageKind.OFFER,
                "proposed-times:" + "-".join(str(one.pk) for one in theirs),
                "proposed",
                title=title,
                body=email_text(reader.name, [*told, after]),
                good_until=max(one.answer_by for one in theirs),
                now=now,
            )
        )
    return messages


def _asked(proposal: ProposedTimes, times: Sequence[Booking], reader: User) -> list[str]:
    """What one student is proposed, and how to answer."""
    until = full_time(proposal.answer_by, reader.zone)
    hours = "\n".join(both_times(time.meeting, reader) for time in times)
    choose = "choose one, or say that none suits," if len(times) > 1 else "say whether it suits"
    answer = f"Answer: {link(f'/proposed-times/{proposal.pk}/')}"
    asked = f"Please {choose} by {until}."
    return [_opening(proposal, reader, len(times)), hours, asked, answer]


def proposal_ended(proposal: ProposedTimes, *, now: datetime) -> list[OutboxMessage]:
    """Tells whoever did not end it: the instructor, the family, or both of a lesson that stays.

    The family is told of times taken back, and of a lesson that it asked to move.
    """
    messages: list[OutboxMessage] = []
    if proposal.ended_why != Ended.REMOVED:
        messages.append(_to_instructor(proposal, now))
    if proposal.ended_why == Ended.REMOVED or _is_about_a_move(proposal):
        messages += _to_family(proposal, now)
    return messages


def _to_instructor(proposal: ProposedTimes, now: datetime) -> OutboxMessage:
    instructor, student = proposal.instructor.user, as_taught(proposal.student, now)
    why = {
        Ended.LAPSED: f"{student}: nobody answered the times you proposed, and they have lapsed",
        Ended.DECLINED: f"{student}: none of the times you proposed suits",
    }.get(
        Ended(proposal.ended_why),
        f"{student}: the times you proposed have ended, because the student has left",
    )
    told = f"{why}. The hours are free again."
    body = email_text(instructor.name, [told, *_stays(proposal, instructor)], changes=TEACHING)
    title = f"Proposed times not taken: {proposal.offering.name}, {proposal.student.first_name}"
    return _row(proposal, instructor, "ended", title, body, now=now)


def _to_family(proposal: ProposedTimes, now: datetime) -> list[OutboxMessage]:
    readers = readers_of(proposal.student, now=now)
    return [times_ended(proposal, reader, now) for reader in readers]


def times_ended(proposal: ProposedTimes, reader: User, now: datetime) -> OutboxMessage:
    """The end of proposed times for one reader of the family."""
    body = email_text(reader.name, how_times_ended(proposal, reader))
    title = f"Proposed times ended: {_named(proposal)}"
    return _row(proposal, reader, "ended", title, body, now=now)


def how_times_ended(proposal: ProposedTimes, reader: User) -> list[str]:
    """What became of the times, and of a lesson that the family asked to move."""
    what = _named(proposal)
    told = {
        Ended.LAPSED: f"The times proposed for {what} were not answered in time and have lapsed.",
        Ended.DECLINED: f"You have told us that none of the times proposed for {what} suits.",
    }.get(Ended(proposal.ended_why), f"The times proposed for {what} are no longer available.")
    return [told, *_stays(proposal, reader)]


def _opening(proposal: ProposedTimes, reader: User, count: int) -> str:
    student = proposal.student
    whom = "you" if student.user_id == reader.pk else student.first_name
    request = proposal.move_request
    if request is None:
        these = "these times" if count > 1 else "this time"
        return f"{proposal.instructor} proposes {these} to {whom}: {_named(proposal)}."
    lesson = short_time(request.booking.starts_at, reader.zone)
    return (
        f"You asked to move the lesson on {lesson}. The time you asked for is not possible, "
        f"and {proposal.instructor} proposes these instead. The lesson stays where it is until you "
        "choose."
    )


def _stays(proposal: ProposedTimes, reader: User) -> list[str]:
    request = proposal.move_request
    if request is None:
        return []
    return [f"The lesson stays where it is: {period(request.booking.meeting, reader.zone)}."]


def _is_about_a_move(proposal: ProposedTimes) -> bool:
    return proposal.move_request_id is not None


def _named(proposal: ProposedTimes) -> str:
    return f"{proposal.offering.name} with {short_name(proposal.instructor.user)}"


def _short(proposal: ProposedTimes, reader: User) -> str:
    return short_time(proposal.answer_by, reader.zone)


def _row(
    proposal: ProposedTimes,
    reader: User,
    state: str,
    title: str,
    body: str,
    *,
    now: datetime,
) -> OutboxMessage:
    key = f"proposed-times:{proposal.pk}"
    return row(reader, MessageKind.TOLD, key, state, title=title, body=body, now=now)
