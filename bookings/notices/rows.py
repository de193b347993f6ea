"""Unsaved rows of messages, each with the keys by which it is sent once."""

import re
from collections.abc import Iterable
from datetime import datetime, timedelta

from accounts.models import User
from bookings.calendars.events import CalendarEvent, Party
from bookings.calendars.invitations import cancel, decline_counter, request
from bookings.domain.addresses import in_ascii
from bookings.domain.policy import quiet_until
from bookings.domain.vocabulary import MeetingStatus
from bookings.models import Meeting, OutboxMessage, Plan, SentSequence
from bookings.notices.people import instructor_reader, short_name
from bookings.notices.wording import CHANGES, TEACHING, link
from bookings.outbox import MessageKind
from bookings.outbox.mailboxes import asks_for_answers, organizer
from bookings.outbox.tracing import sealed_id

REMINDED_BEFORE = (
    (MessageKind.REMINDER_DAY, timedelta(hours=24)),
    (MessageKind.REMINDER_HOUR, timedelta(hours=1)),
)


def row(
    recipient: User,
    kind: MessageKind,
    subject_key: str,
    state_key: str,
    *,
    title: str,
    body: str,
    now: datetime,
    meeting: Meeting | None = None,
    to_address: str = "",
    due_at: datetime | None = None,
    good_until: datetime | None = None,
) -> OutboxMessage:
    """One unsaved message. The same recipient, kind, keys and address give the same
    Message-ID.
    """
    left = re.sub(r"[^A-Za-z0-9.-]+", "-", f"{kind}.{subject_key}.{state_key}.{recipient.pk}")
    address = in_ascii(to_address or recipient.email)
    return OutboxMessage(
        recipient=recipient,
        kind=kind,
        subject_key=subject_key,
        state_key=state_key,
        meeting=meeting,
        to_address=address,
        title=title[:200],
        body=body,
        message_id=sealed_id(left, address),
        made_at=now,
        due_at=due_at or now,
        good_until=good_until,
    )


def plan_key(plan: Plan) -> str:
    """The subject key of emails that ask people about a plan."""
    return f"plan:{plan.pk}"


def named(meeting: Meeting, reader: User | None = None) -> str:
    """ "Consultation with I. Quarrow", which a stranger may read in a calendar.

    The instructor's own calendar does not name the instructor.
    """
    what, instructor = meeting.title or meeting.offering.name, instructor_reader(meeting)
    return what if reader == instructor else f"{what} with {short_name(instructor)}"


def event_of(
    meeting: Meeting, reader: User | None, *, sequence: int, stamp: datetime, status: str = ""
) -> CalendarEvent:
    """The meeting as the reader's calendar shows it, without a join address if it is cancelled.

    `stamp` is the one of CalendarEvent; `status` replaces the meeting's own.
    """
    pages = TEACHING if reader == instructor_reader(meeting) else CHANGES
    shown = status or meeting.status
    return CalendarEvent(
        uid=str(meeting.uid),
        sequence=sequence,
        stamp=stamp,
        starts_at=meeting.starts_at,
        ends_at=meeting.ends_at,
        time_zone=meeting.zone,
        summary=named(meeting, reader),
        description=f"To see or change your bookings: {link(pages)}",
        status=shown,
        join_address="" if shown == MeetingStatus.CANCELLED else meeting.join_address,
    )


def party(reader: User) -> Party:
    return Party(in_ascii(reader.email), reader.name)


class MeetingPost:
    """Makes the messages about one change of one meeting.

    It knows the last SEQUENCE of every reader. The next one is the meeting's own or the last one
    plus 1, whichever is higher, so it rises over a removal too (RFC 5546 section 2.1.4). `is_new`:
    this change makes the meeting. `told_on`: only their zone has changed, from this one.
    """

    def __init__(
        self,
        meeting: Meeting,
        readers: Iterable[User],
        now: datetime,
        *,
        is_new: bool = False,
        told_on: str = "",
    ) -> None:
        self.meeting, self.now, self._told_on = meeting, now, told_on
        self._last: dict[int, int] = {}
        if not is_new:
            sent = SentSequence.objects.filter(meeting=meeting, recipient__in=list(readers))
            self._last.update(sent.values_list("recipient_id", "sequence"))

    def _sequence(self, reader: User) -> int:
        if self._told_on:
            return self._last.get(reader.pk, self.meeting.sequence)
        return max(self.meeting.sequence, self._last.get(reader.pk, -1) + 1)

    def invite(
        self, reader: User, title: str, body: str, *, partstat: str = "ACCEPTED"
    ) -> OutboxMessage:
        """A REQUEST for the reader's calendar."""
        sequence = self._sequence(reader)
        event = event_of(self.meeting, reader, sequence=sequence, stamp=self.now)
        message = self._row(reader, MessageKind.INVITATION, f"sequence:{sequence}", title, body)
        message.calendar = request(
            event,
            organizer(self.meeting, reader.pk),
            party(reader),
            partstat,
            rsvp=asks_for_answers(self.meeting) and partstat == "NEEDS-ACTION",
        ).decode()
        message.method, message.sequence = "REQUEST", sequence
        return message

    def cancel(
        self, reader: User, title: str, body: str, *, whole: bool, state_key: str
    ) -> OutboxMessage:
        """A CANCEL for a reader who was sent the meeting; an email for any other reader.

        The email has this `state_key`. `whole` says that the meeting itself is cancelled.
        """
        sequence = self._sequence(reader)
        if reader.pk not in self._last:
            told = self.tell(reader, state_key, title, body)
            told.sequence = sequence  # it supersedes the reader's unsent reminders
            return told
        event = event_of(self.meeting, reader, sequence=sequence, stamp=self.now)
        message = self._row(reader, MessageKind.CANCELLATION, f"sequence:{sequence}", title, body)
        message.calendar = cancel(
            event, organizer(self.meeting, reader.pk), party(reader), whole
        ).decode()
        message.method, message.sequence = "CANCEL", sequence
        return message

    def decline(
        self, reader: User, state_key: str, title: str, body: str, *, sequence: int
    ) -> OutboxMessage:
        """A DECLINECOUNTER with the `sequence` of the COUNTER (RFC 5546 section 3.2.8).

        It has no SEQUENCE of its own.
        """
        event = event_of(self.meeting, reader, sequence=sequence, stamp=self.now)
        message = self._row(reader, MessageKind.TOLD, state_key, title, body)
        message.calendar = decline_counter(
            event, organizer(self.meeting, reader.pk), party(reader)
        ).decode()
        message.method = "DECLINECOUNTER"
        return message

    def tell(
        self,
        reader: User,
        state_key: str,
        title: str,
        body: str,
        *,
        kind: MessageKind = MessageKind.TOLD,
        good_until: datetime | None = None,
        due_at: datetime | None = None,
    ) -> OutboxMessage:
        """An email without a calendar part."""
        return self._row(reader, kind, state_key, title, body, good_until=good_until, due_at=due_at)

    def remind(
        self, reader: User, kind: MessageKind, due_at: datetime, title: str, body: str
    ) -> OutboxMessage:
        """A reminder. It is of no use once the meeting has begun."""
        state_key = f"sequence:{self._sequence(reader)}"
        return self._row(
            reader, kind, state_key, title, body, due_at=due_at, good_until=self.meeting.starts_at
        )

    def reminder_times(
        self, reader: User, *, since: datetime | None = None
    ) -> list[tuple[MessageKind, datetime]]:
        """The kinds of reminders that this reader gets, each with its instant (UTC).

        None is due between 22:00 and 08:00 in the reader's zone, nor before `since`, when a child
        becomes a reader: it waits. One that would wait until the start is left out.
        """
        times = []
        for kind, before in REMINDED_BEFORE:
            due_at = self.meeting.starts_at - before
            if since is not None:
                due_at = max(due_at, since)
            # One may still wait for the morning in the zone of the reader's older emails.
            waits_until = quiet_until(due_at, self._told_on) if self._told_on else due_at
            if waits_until <= self.now:
                continue
            due_at = quiet_until(max(due_at, self.now), reader.zone)
            if due_at < self.meeting.starts_at:
                times.append((kind, due_at))
        return times

    def _row(
        self,
        reader: User,
        kind: MessageKind,
        state_key: str,
        title: str,
        body: str,
        *,
        due_at: datetime | None = None,
        good_until: datetime | None = None,
    ) -> OutboxMessage:
        subject_key = f"meeting:{self.meeting.pk}"
        return row(
            reader,
            kind,
            subject_key,
            state_key,
            title=title,
            body=body,
            now=self.now,
            meeting=self.meeting,
            due_at=due_at,
            good_until=good_until,
        )
