"""What an answer of a calendar does. Whoever wrote it acts with their own rights and no others; an
answer only ever asks.

The mailbox it came to names meeting and recipient. It is the recipient's where From and ATTENDEE
are their address and the school's mail server vouches for its domain: an invitation that was
forwarded is in many hands. Of any other answer that would cancel or move something the family is
asked, once a state, and nothing changes.
"""

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta

from django.db.models import Sum

from accounts.models import User
from bookings import notices, outbox
from bookings.calendars.replies import CalendarReply, Ignored, Method, Reason
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Ended, MeetingStatus, PartStat, Standing
from bookings.models import Booking, LastAnswer, Meeting, OutboxMessage, SentSequence
from bookings.operations.audit import record
from bookings.operations.booking import cancel_slot, why_cancelled
from bookings.operations.ignored import count_ignored
from bookings.operations.locks import lock_instructors, lock_meetings
from bookings.operations.move_requests import ask_to_move
from bookings.operations.resending import send_again
from bookings.operations.waiting import leave_place
from bookings.outbox.mailboxes import mailbox, opened

_HOUR = timedelta(hours=1)
MOST_ABOUT_ONE, MOST_OF_SENDER = 10, 30
"""How many answers are heard in an hour about one meeting and from one person."""


def hear(answer: CalendarReply, *, now: datetime) -> None:
    """Does what the answer asks for, within the sender's own rights; raises Ignored where nothing follows from it."""
    meeting, reader = _whose(answer.to)
    if str(meeting.uid) != answer.uid.lower():
        raise Ignored(Reason.MALFORMED)
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
        raise Ignored(Reason.UNKNOWN_SENDER)
    doubt = _doubt(answer, reader)
    if doubt is not None:
        _ask_the_family(reader, meeting, answer, sent.sequence, doubt, now)
        return
    last = _counted(meeting, reader, now)
    if answer.method is Method.REFRESH:
        _send_current(reader, meeting, sent.sequence, now)
        return
    # One ahead of now counts as written now: kept as it is, it would make every later one an older answer.
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
        _note(reader, bookings, answer.partstat, now)


def _whose(addresses: Iterable[str]) -> tuple[Meeting, User]:
    """The meeting and the recipient of the one mailbox among these addresses (in small letters)."""
    found = {address: opened(address) for address in addresses}
    mailboxes = {ids: address for address, ids in found.items() if ids is not None}
    if len(mailboxes) != 1:
        raise Ignored(Reason.UNKNOWN_ADDRESS)
    (((meeting_id, reader_id), address),) = mailboxes.items()
    meeting = Meeting.objects.filter(pk=meeting_id).first()
    reader = User.objects.filter(pk=reader_id, is_active=True).first()
    if meeting is None or reader is None or mailbox(meeting, reader_id).lower() != address:
        raise Ignored(Reason.UNKNOWN_ADDRESS)
    return meeting, reader


def _doubt(answer: CalendarReply, reader: User) -> Reason | None:
    """Why this may be somebody else's answer (RFC 6047 section 2.2.1); None where it is the
    reader's own.
    """
    if not reader.email.lower() == answer.sender == answer.attendee:
        return Reason.UNKNOWN_SENDER
    return None if answer.is_vouched_for else Reason.UNPROVEN


def _ask_the_family(
    reader: User, meeting: Meeting, answer: CalendarReply, sent: int, doubt: Reason, now: datetime
) -> None:
    """One email for each SEQUENCE sent; what would cancel and move nothing, or is about another
    state, is ignored.

    It is not kept as the last answer and not counted among the reader's own, so that a stranger
    silences nobody.
    """
    if answer.method is Method.COUNTER:
        ask = notices.moving_unproven
    elif answer.partstat == PartStat.DECLINED:
        ask = notices.cancelling_unproven
    else:
        raise Ignored(doubt)
    if answer.sequence != sent:
        raise Ignored(Reason.OLD if answer.sequence < sent else Reason.MALFORMED)
    bookings = _places_ahead(reader, meeting, now)
    outbox.enqueue(ask(reader, bookings, sequence=sent, now=now), now=now)
    count_ignored(doubt, now=now)


def _counted(meeting: Meeting, reader: User, now: datetime) -> LastAnswer:
    """This answer counted; Ignored where there were too many in the hour."""
    last, _ = LastAnswer.objects.get_or_create(
        meeting=meeting, recipient=reader, defaults={"hour_began": now}
    )
    if now - last.hour_began >= _HOUR:
        last.hour_began, last.in_hour = now, 0
    heard = (
        LastAnswer.objects.filter(recipient=reader, hour_began__gt=now - _HOUR)
        .exclude(pk=last.pk)
        .aggregate(all=Sum("in_hour"))["all"]
    )
    if last.in_hour >= MOST_ABOUT_ONE or (heard or 0) + last.in_hour >= MOST_OF_SENDER:
        raise Ignored(Reason.TOO_MANY)
    last.in_hour += 1
    last.save(update_fields=["hour_began", "in_hour"])
    return last


def _check_newer(answer: CalendarReply, last: LastAnswer, sent: int) -> None:
    """By SEQUENCE, then DTSTAMP (RFC 5546 section 2.1.5); an answer to what has changed since is an old one."""
    if answer.sequence > sent:
        raise Ignored(Reason.MALFORMED)
    heard = (
        last.sequence is not None
        and last.stamp is not None
        and (answer.sequence, answer.stamp) <= (last.sequence, last.stamp)
    )
    if answer.sequence < sent or heard:
        raise Ignored(Reason.OLD)


def _places_ahead(reader: User, meeting: Meeting, now: datetime) -> list[Booking]:
    """The places that the reader answers for; Ignored where there is none, or it is over or called
    off.
    """
    held = Booking.objects.filter(meeting=meeting, standing=Standing.HELD)
    rows = held.select_related(
        "policy", "student__user", "meeting__offering", "meeting__instructor__user"
    ).order_by("pk")
    hers = [booking for booking in rows if reader in notices.family_of(booking.student, now=now)]
    if not hers or meeting.is_cancelled or meeting.starts_at <= now:
        raise Ignored(Reason.NO_PLACE)
    return hers


def _note(reader: User, bookings: list[Booking], partstat: str, now: datetime) -> None:
    for booking in bookings:
        booking.partstat = partstat
        booking.save(update_fields=["partstat"])
        record(actor=reader, verb="answered by mail", thing=booking, fields=["partstat"], now=now)


def _decline(reader: User, bookings: list[Booking], answer: CalendarReply, now: datetime) -> None:
    """In time it gives the places back, as cancelling on the page would; later nothing is given up
    on a calendar's word.
    """
    _note(reader, bookings, PartStat.DECLINED, now)
    if any(why_cancelled(booking, now) is Ended.CANCELLED_LATE for booking in bookings):
        outbox.enqueue(
            notices.place_stays(reader, bookings, sequence=answer.sequence, now=now), now=now
        )
        return
    give_back = cancel_slot if bookings[0].meeting.offering.is_one_on_one else leave_place
    for booking in bookings:
        give_back(actor=reader, booking=booking, now=now)


def _ask_to_move(
    reader: User, bookings: list[Booking], answer: CalendarReply, now: datetime
) -> None:
    """A person answers for a one-on-one; the time of a group is the school's, so there it is refused at once."""
    booking, starts_at = bookings[0], answer.starts_at
    if starts_at is None or starts_at <= now or starts_at == booking.starts_at:
        raise Ignored(Reason.MALFORMED)
    if not booking.meeting.offering.is_one_on_one:
        told = notices.counter_refused(
            reader, booking.meeting, starts_at=starts_at, sequence=answer.sequence, now=now
        )
        outbox.enqueue(told, now=now)
        return
    ask_to_move(
        actor=reader, booking=booking, starts_at=starts_at, sequence=answer.sequence, now=now
    )


def _send_current(reader: User, meeting: Meeting, sequence: int, now: datetime) -> None:
    """The current REQUEST once more: same Message-ID, SEQUENCE and DTSTAMP (RFC 5546 section 3.2.6)."""
    invitations = OutboxMessage.objects.filter(
        meeting=meeting, recipient=reader, method="REQUEST", sequence=sequence
    )
    current = (
        None if meeting.status == MeetingStatus.CANCELLED else invitations.order_by("-pk").first()
    )
    if current is None:
        raise Ignored(Reason.NO_PLACE)
    try:
        send_again(actor=reader, message=current, now=now)
    except Refused:
        raise Ignored(
            Reason.REFUSED
        ) from None  # it is about to leave anyway, or its text has been erased
