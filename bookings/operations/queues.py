"""The queue of a meeting: whose turn it is, and the offer of a free place to her. Under the meeting's and its students' locks."""

from datetime import datetime

from django.db.models import F, Q, QuerySet

from accounts.models import Student, User
from bookings import notices, outbox
from bookings.domain import policy as rules
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Ended, MeetingStatus, PartStat, PlaceKind, Standing
from bookings.models import LIVE, Booking, Meeting, OutboxMessage, StudioPolicy, WaitingPlace
from bookings.operations.audit import record
from bookings.operations.booking import end
from bookings.operations.consents import check_hours
from bookings.operations.counting import count_place, places, taken
from bookings.operations.locks import lock_meetings, lock_students
from bookings.queries.consents import has_consent
from bookings.queries.notes import latest_released
from bookings.queries.policies import policy_in_force
from bookings.queries.waiting import is_anybodys, line


def offer_next(meeting: Meeting, place_kind: PlaceKind, *, now: datetime) -> list[OutboxMessage]:
    """Offers free places of a locked meeting to those first in line who may take one; the messages to enqueue.

    Inside the last four hours nobody is offered anything: all who wait are told that the first yes has it.
    """
    messages: list[OutboxMessage] = []
    if meeting.is_cancelled or meeting.starts_at <= now:
        return messages
    policy = policy_in_force(now)
    queue = list(line(meeting, place_kind))
    for waiting in list(queue):
        if taken(meeting, place_kind) >= places(meeting, place_kind):
            break
        answer_by = rules.offer_answer_by(now, meeting.starts_at, waiting.student.zone)
        if answer_by is None:
            return messages + notices.place_free(meeting, place_kind, queue, now=now)
        if not _may_take(waiting.student, meeting, policy, now):
            continue
        offer = new_booking(
            meeting,
            waiting.student,
            place_kind,
            Standing.OFFERED,
            policy,
            actor=None,
            now=now,
            waiting=waiting,
            answer_by=answer_by,
        )
        queue.remove(waiting)
        record(actor=None, verb="offered", thing=offer, now=now)
        messages += notices.offer_made(offer, now=now)
    return messages


def offer_free_places(*, now: datetime) -> None:
    """Offers places that stand free to those who may take one by now, such as a child whose consent has come since.

    What is open to whoever says yes first is left open.
    """
    free = Q(taken__lt=F("places"), waiting__place_kind=PlaceKind.PLAYER)
    free |= Q(listeners_taken__lt=F("listener_places"), waiting__place_kind=PlaceKind.LISTENER)
    waited_for = Q(waiting__ended_at__isnull=True, waiting__offer__isnull=True) & free
    ahead = Meeting.objects.filter(waited_for, starts_at__gt=now).exclude(
        status=MeetingStatus.CANCELLED
    )
    meetings = lock_meetings(ahead.values_list("pk", flat=True))
    lock_students(
        WaitingPlace.objects.filter(meeting__in=meetings, ended_at__isnull=True).values_list(
            "student_id", flat=True
        )
    )
    messages: list[OutboxMessage] = []
    for meeting in meetings.values():
        for place_kind in PlaceKind:
            if not is_anybodys(meeting, place_kind, now=now):
                messages += offer_next(meeting, place_kind, now=now)
    outbox.enqueue(messages, now=now)


def _may_take(student: Student, meeting: Meeting, policy: StudioPolicy, now: datetime) -> bool:
    """Whether an offer makes sense: consent, hours, and somebody who reads it."""
    try:
        check_hours(student, meeting, policy)
    except Refused:
        return False
    return has_consent(student, now=now) and bool(notices.family_of(student, now=now))


def stop_listening(meeting: Meeting, her: Student, now: datetime) -> list[OutboxMessage]:
    """A player does not listen too: her listener place goes to the next who waits for one; the messages to enqueue."""
    end_waiting(waits(meeting, her, PlaceKind.LISTENER), Ended.PLACED, now)
    listening = Booking.objects.filter(
        meeting=meeting, student=her, place_kind=PlaceKind.LISTENER, standing__in=LIVE
    ).first()
    if listening is None:
        return []
    end(listening, why=Ended.MOVED, now=now)
    count_place(meeting, PlaceKind.LISTENER, -1)
    return offer_next(meeting, PlaceKind.LISTENER, now=now)


def new_booking(
    meeting: Meeting,
    student: Student,
    place_kind: PlaceKind,
    standing: Standing,
    policy: StudioPolicy,
    *,
    actor: User | None,
    now: datetime,
    waiting: WaitingPlace | None = None,
    answer_by: datetime | None = None,
) -> Booking:
    held = standing == Standing.HELD
    booking = Booking(
        meeting=meeting,
        student=student,
        place_kind=place_kind,
        standing=standing,
        starts_at=meeting.starts_at,
        ends_at=meeting.ends_at,
        policy=policy,
        booked_by=actor,
        booked_at=now,
        answer_by=answer_by,
        waiting_place=waiting,
        partstat=PartStat.ACCEPTED if held else PartStat.NEEDS_ACTION,
        assessment=latest_released(student) if held else None,
    )
    count_place(meeting, place_kind, 1)
    booking.save(force_insert=True)
    return booking


def end_offer(
    actor: User | None,
    offer: Booking,
    meeting: Meeting,
    why: Ended,
    now: datetime,
    *,
    reason: str = "",
) -> Booking:
    place_kind = PlaceKind(offer.place_kind)
    offer.meeting = meeting
    end(offer, why=why, now=now)
    end_waiting(WaitingPlace.objects.filter(offer=offer), why, now)
    count_place(meeting, place_kind, -1)
    record(actor=actor, verb=why.value, thing=offer, fields=["standing"], reason=reason, now=now)
    outbox.enqueue(
        notices.booking_ended(offer, now=now) + offer_next(meeting, place_kind, now=now), now=now
    )
    return offer


def waits(meeting: Meeting, student: Student, place_kind: PlaceKind) -> QuerySet[WaitingPlace]:
    """Her own place in the queue, with or without an offer."""
    return WaitingPlace.objects.filter(
        meeting=meeting, student=student, place_kind=place_kind, ended_at__isnull=True
    )


def end_waiting(rows: QuerySet[WaitingPlace], why: Ended, now: datetime) -> None:
    rows.update(ended_at=now, ended_why=why)
