"""Acts on an answer that a calendar sent by email, within the rights of the person who answers.

The mailbox that received it names the meeting and the recipient of the invitation. An invitation
may be forwarded to anybody, so an answer counts as the recipient's only where From and ATTENDEE are
their address and the school's mail server vouches for its domain. Any other answer that would
cancel or move something changes nothing: the family is asked, once for each state of the meeting.
"""

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta

from django.db.models import Sum

from accounts.models import User
from bookings import notices, outbox
from bookings.calendars.ignoring import Ignored, WhyIgnored
from bookings.calendars.replies import CalendarReply, Method
from bookings.domain.addresses import in_ascii
from bookings.domain.errors import Refused
from bookings.domain.timeline import LAST_ON
from bookings.domain.vocabulary import Ended, PartStat
from bookings.models import Booking, LastAnswer, Meeting, OutboxMessage, SentSequence
from bookings.operations.audit import record
from bookings.operations.booking import cancel_slot
from bookings.operations.booking_state import why_cancelled
from bookings.operations.ignored_mail import count_ignored
from bookings.operations.locks import lock_instructors, lock_meetings
from bookings.operations.move_requests import ask_to_move
from bookings.operations.places import leave_place
from bookings.operations.resending import send_again
from bookings.outbox.mailboxes import mailbox, opened

_HOUR = timedelta(hours=1)
MOST_ABOUT_ONE, MOST_OF_SENDER = 10, 30
"""The most answers in an hour about one meeting, and from one person."""


def hear(answer: CalendarReply, *, now: datetime) -> None:
    """Does what the answer asks for. Raises Ignored where nothing follows from it.

    Refused("busy") where the meeting has just moved to another instructor.
    """
    meeting, reader = _meeting_and_reader(answer.to)
    if str(meeting.uid) != answer.uid.lower():
        raise Ignored(WhyIgnored.MALFORMED)
    lock_instructors([meeting.instructor_id])
    taught_by, meeting = meeting.instructor_id, lock_meetings([meeting.pk])[meeting.pk]
    if meeting.instructor_id != taught_by:
        raise Refused(
            "busy",
            "The meeting has just moved to another instructor. Send it again in a moment.",
            retry_after=5,
        )
    sent = SentSequence.objects.filter(meeting=meeting, recipient=reader).first()
    if sent is None:
        raise Ignored(WhyIgnored.UNKNOWN_SENDER)
    doubt = _doubt(answer, reader)
    if doubt is not None:
        _ask_the_family(reader, meeting, answer, sent.sequence, doubt, now)
        return
    last = _counted(meeting, reader, now)
    if answer.method is Method.REFRESH:
        _send_current(reader, meeting, sent.sequence, now)
        return
    # A time stamp in the future counts as now. Otherwise it would make every later answer look old.
    answer = replace(answer, stamp=min(answer.stamp, now))
    _check_newer(answer, last, sent.sequence)
    last.sequence, last.stamp = answer.sequence, answer.stamp
    last.save(update_fields=["sequence", "stamp"])
    bookings = _places_ahead(reader, meeting, now)
    if answer.method is Method.COUNTER:
        _ask_to_move(reader, bookings, answer, now)
    elif answer.partstat == PartStat.DECLINED:
        _decline(reader, bookings, answer, now)
    else:
        _store(reader, bookings, answer.partstat, now)


def _meeting_and_reader(addresses: Iterable[str]) -> tuple[Meeting, User]:
    """The meeting and the recipient of the one mailbox among these lower-case addresses."""
    found = {address: opened(address) for address in addresses}
    mailboxes = {ids: address for address, ids in found.items() if ids is not None}
    if len(mailboxes) != 1:
        raise Ignored(WhyIgnored.UNKNOWN_ADDRESS)
    (((meeting_id, reader_id), address),) = mailboxes.items()
    meeting = Meeting.objects.filter(pk=meeting_id).first()
    reader = User.objects.filter(pk=reader_id, is_active=True).first()
    if meeting is None or reader is None or mailbox(meeting, reader_id).lower() != address:
        raise Ignored(WhyIgnored.UNKNOWN_ADDRESS)
    return meeting, reader


def _doubt(answer: CalendarReply, reader: User) -> WhyIgnored | None:
    """Why this may not be the reader's own answer (RFC 6047 section 2.2.1); None where it is."""
    if not in_ascii(reader.email).lower() == answer.sender == answer.attendee:
        return WhyIgnored.UNKNOWN_SENDER
    return None if answer.is_vouched_for else WhyIgnored.UNPROVEN


def _ask_the_family(
    reader: User,
    meeting: Meeting,
    answer: CalendarReply,
    sent: int,
    doubt: WhyIgnored,
    now: datetime,
) -> None:
    """Sends the family one email for each SEQUENCE. Nothing else changes.

    Raises Ignored for an answer that would cancel or move nothing, and for one to another SEQUENCE.
    The answer is neither kept as the last one nor counted among the reader's own, so a stranger
    cannot silence the reader.
    """
    if answer.method is Method.COUNTER:
        ask = notices.moving_unproven
    elif answer.partstat == PartStat.DECLINED:
        ask = notices.cancelling_unproven
    else:
        raise Ignored(doubt)
    if answer.sequence != sent:
        raise Ignored(WhyIgnored.OLD if answer.sequence < sent else WhyIgnored.MALFORMED)
    bookings = _places_ahead(reader, meeting, now)
    outbox.enqueue(ask(reader, bookings, sequence=sent, now=now), now=now)
    count_ignored(doubt, now=now)


def _counted(meeting: Meeting, reader: User, now: datetime) -> LastAnswer:
    """Counts this answer. Raises Ignored where there were too many within an hour."""
    last, _ = LastAnswer.objects.get_or_create(
        meeting=meeting, recipient=reader, defaults={"hour_began": now}
    )
    if now - last.hour_began >= _HOUR:
        last.hour_began, last.in_hour = now, 0
    others = LastAnswer.objects.filter(recipient=reader, hour_began__gt=now - _HOUR)
    about_others = others.exclude(pk=last.pk).aggregate(all=Sum("in_hour"))["all"] or 0
    if last.in_hour >= MOST_ABOUT_ONE or about_others + last.in_hour >= MOST_OF_SENDER:
        raise Ignored(WhyIgnored.TOO_MANY)
    last.in_hour += 1
    last.save(update_fields=["hour_began", "in_hour"])
    return last


def _check_newer(answer: CalendarReply, last: LastAnswer, sent: int) -> None:
    """Raises Ignored for an old answer: by SEQUENCE, then DTSTAMP (RFC 5546 section 2.1.5).

    An answer to an older SEQUENCE than the one `sent` last is old too.
    """
    if answer.sequence > sent:
        raise Ignored(WhyIgnored.MALFORMED)
    if answer.sequence < sent:
        raise Ignored(WhyIgnored.OLD)
    if last.sequence is None or last.stamp is None:
        return
    if (answer.sequence, answer.stamp) <= (last.sequence, last.stamp):
        raise Ignored(WhyIgnored.OLD)


def _places_ahead(reader: User, meeting: Meeting, now: datetime) -> list[Booking]:
    """The places for which the reader answers, by id.

    Raises Ignored where there are none, the meeting has begun, or it is called off.
    """
    rows = Booking.objects.in_meetings([meeting]).held().with_details().order_by("pk")
    places = [booking for booking in rows if reader in notices.readers_of(booking.student, now=now)]
    if not places or meeting.is_cancelled or meeting.starts_at <= now:
        raise Ignored(WhyIgnored.NO_PLACE)
    return places


def _store(reader: User, bookings: list[Booking], partstat: str, now: datetime) -> None:
    for booking in bookings:
        booking.partstat = partstat
        booking.save(update_fields=["partstat"])
        record(actor=reader, verb="answered by mail", thing=booking, fields=["partstat"], now=now)


def _decline(reader: User, bookings: list[Booking], answer: CalendarReply, now: datetime) -> None:
    """Gives the places back before the deadline, as cancelling on the page does.

    After the deadline the places stay, because a late cancellation is charged; the reader is told
    how to cancel.
    """
    _store(reader, bookings, PartStat.DECLINED, now)
    if any(why_cancelled(booking, now) is Ended.CANCELLED_LATE for booking in bookings):
        messages = notices.place_stays(reader, bookings, sequence=answer.sequence, now=now)
        outbox.enqueue(messages, now=now)
        return
    give_back = cancel_slot if bookings[0].meeting.offering.is_one_on_one else leave_place
    for booking in bookings:
        give_back(actor=reader, booking=booking, now=now)


def _ask_to_move(
    reader: User, bookings: list[Booking], answer: CalendarReply, now: datetime
) -> None:
    """Asks the instructor to move a one-on-one. For a group meeting it is refused at once."""
    booking, starts_at = bookings[0], answer.starts_at
    if starts_at is None or starts_at <= now or starts_at == booking.starts_at:
        raise Ignored(WhyIgnored.MALFORMED)
    if starts_at.date() > LAST_ON:  # the last hours of the year 9999 are on no eastern clock
        raise Ignored(WhyIgnored.MALFORMED)
    if not booking.meeting.offering.is_one_on_one:
        messages = notices.counter_refused(
            reader, booking.meeting, starts_at=starts_at, sequence=answer.sequence, now=now
        )
        outbox.enqueue(messages, now=now)
        return
    ask_to_move(
        actor=reader, booking=booking, starts_at=starts_at, sequence=answer.sequence, now=now
    )


def _send_current(reader: User, meeting: Meeting, sequence: int, now: datetime) -> None:
    """Sends the current REQUEST again (RFC 5546 section 3.2.6).

    Message-ID, SEQUENCE and DTSTAMP stay the same. Raises Ignored where the meeting is called off
    or the message cannot be sent again.
    """
    invitations = OutboxMessage.objects.to(reader.pk).filter(
        meeting=meeting, method="REQUEST", sequence=sequence
    )
    current = invitations.order_by("-pk").first()
    if current is None or meeting.is_cancelled:
        raise Ignored(WhyIgnored.NO_PLACE)
    try:
        send_again(actor=reader, message=current, now=now)
    except Refused:
        raise Ignored(WhyIgnored.REFUSED) from None
