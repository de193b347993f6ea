"""The rows of one change to one meeting, each with the keys by which it is sent once."""

import re
from collections.abc import Iterable
from datetime import datetime, timedelta

from django.conf import settings

from accounts.models import User
from bookings.calendars.events import CalendarEvent, Party
from bookings.calendars.invitations import cancel, decline_counter, request
from bookings.domain.policy import quiet_until
from bookings.models import Meeting, OutboxMessage, SentSequence
from bookings.notices.people import instructor_of, short_name
from bookings.notices.wording import CHANGES, TEACHING, link
from bookings.outbox import MessageKind
from bookings.outbox.mailboxes import asks_for_answers, organizer

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
    """One unsaved message. The same keys give the same Message-ID whenever it is made."""
    left = re.sub(r"[^A-Za-z0-9.-]+", "-", f"{kind}.{subject_key}.{state_key}.{recipient.pk}")
    return OutboxMessage(
        recipient=recipient,
        kind=kind,
        subject_key=subject_key,
        state_key=state_key,
        meeting=meeting,
        to_address=in_ascii(to_address or recipient.email),
        title=title[:200],
        body=body,
        message_id=f"<{left}@{settings.ORGANIZER_EMAIL.rpartition('@')[2]}>",
        made_at=now,
        due_at=due_at or now,
        good_until=good_until,
    )


def in_ascii(address: str) -> str:
    """The address with its domain as mail and calendars carry it (RFC 5890)."""
    local, _, domain = address.rpartition("@")
    return f"{local}@{domain.encode('idna').decode()}"


def named(meeting: Meeting, reader: User | None = None) -> str:
    """What a stranger may read in a calendar: "Consultation with I. Quarrow"; her own calendar does not name the instructor."""
    what = meeting.title or meeting.offering.name
    return (
        what
        if reader == instructor_of(meeting)
        else f"{what} with {short_name(instructor_of(meeting))}"
    )


def event_of(
    meeting: Meeting, reader: User | None, *, sequence: int, stamp: datetime, status: str = ""
) -> CalendarEvent:
    """The meeting as the reader's calendar shows it; `stamp` as in CalendarEvent. A cancelled one keeps its join address to itself."""
    pages = TEACHING if reader == instructor_of(meeting) else CHANGES
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
        join_address="" if shown == "CANCELLED" else meeting.join_address,
    )


def _party(reader: User) -> Party:
    return Party(in_ascii(reader.email), reader.name)


class MeetingPost:
    """Makes the messages of one change to one meeting; knows which SEQUENCE each reader was sent last.

    The next is the meeting's own or one more than her last, whichever is higher: it rises over a removal too (RFC 5546
    section 2.1.4). `is_new` where the meeting is made in this very change, so that nobody was sent anything; `told_on` where
    nothing changes but the reader's clock, and names the zone it showed so far.
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
        sent = (
            SentSequence.objects.none() if is_new else SentSequence.objects.filter(meeting=meeting)
        )
        self._last = dict(
            sent.filter(recipient__in=list(readers)).values_list("recipient_id", "sequence")
        )

    def _sequence(self, reader: User) -> int:
        if self._told_on:
            return self._last.get(reader.pk, self.meeting.sequence)
        return max(self.meeting.sequence, self._last.get(reader.pk, -1) + 1)

    def invite(
        self, reader: User, title: str, body: str, *, partstat: str = "ACCEPTED"
    ) -> OutboxMessage:
        """A REQUEST for the reader's calendar: new, or the new state of one she has."""
        sequence = self._sequence(reader)
        event = event_of(self.meeting, reader, sequence=sequence, stamp=self.now)
        message = self._row(reader, MessageKind.INVITATION, f"sequence:{sequence}", title, body)
        message.calendar = request(
            event,
            organizer(self.meeting, reader.pk),
            _party(reader),
            partstat,
            rsvp=asks_for_answers(self.meeting) and partstat == "NEEDS-ACTION",
        ).decode()
        message.method, message.sequence = "REQUEST", sequence
        return message

    def cancel(
        self, reader: User, title: str, body: str, *, whole: bool, state_key: str
    ) -> OutboxMessage:
        """A CANCEL for a reader whose calendar was sent the meeting, plain words under `state_key` for one whose was not."""
        sequence = self._sequence(reader)
        if reader.pk not in self._last:
            told = self.tell(reader, state_key, title, body)
            told.sequence = sequence  # so that the reminders she was to get are superseded
            return told
        event = event_of(self.meeting, reader, sequence=sequence, stamp=self.now)
        message = self._row(reader, MessageKind.CANCELLATION, f"sequence:{sequence}", title, body)
        message.calendar = cancel(
            event, organizer(self.meeting, reader.pk), _party(reader), whole
        ).decode()
        message.method, message.sequence = "CANCEL", sequence
        return message

    def decline(
        self, reader: User, state_key: str, title: str, body: str, *, sequence: int
    ) -> OutboxMessage:
        """A DECLINECOUNTER that echoes the `sequence` of what was asked; it takes no SEQUENCE of its own (RFC 5546 section 3.2.8)."""
        event = event_of(self.meeting, reader, sequence=sequence, stamp=self.now)
        message = self._row(reader, MessageKind.TOLD, state_key, title, body)
        message.calendar = decline_counter(
            event, organizer(self.meeting, reader.pk), _party(reader)
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
        """Plain words, nothing for a calendar."""
        return self._row(reader, kind, state_key, title, body, good_until=good_until, due_at=due_at)

    def remind(
        self, reader: User, kind: MessageKind, due_at: datetime, title: str, body: str
    ) -> OutboxMessage:
        """A reminder of the state that the invitation beside it tells; of no use once the meeting has begun."""
        state_key = f"sequence:{self._sequence(reader)}"
        return self._row(
            reader, kind, state_key, title, body, due_at=due_at, good_until=self.meeting.starts_at
        )

    def reminder_times(
        self, reader: User, *, since: datetime | None = None
    ) -> list[tuple[MessageKind, datetime]]:
        """When to remind this reader, UTC: never between 22:00 and 08:00 of her clock, and not at all where the start comes first.

        Nor before `since`, from when on they are written to; what is due earlier waits for it.
        """
        asked = ((kind, self.meeting.starts_at - before) for kind, before in REMINDED_BEFORE)
        if since is not None:
            asked = ((kind, max(at, since)) for kind, at in asked)
        if self._told_on:  # what her old clock put off to the morning still waits
            asked = (
                (kind, max(at, self.now))
                for kind, at in asked
                if quiet_until(at, self._told_on) > self.now
            )
        else:
            asked = ((kind, at) for kind, at in asked if at > self.now)
        waking = ((kind, quiet_until(at, reader.zone)) for kind, at in asked)
        return [(kind, at) for kind, at in waking if at < self.meeting.starts_at]

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
