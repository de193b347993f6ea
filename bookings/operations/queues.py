"""The queue of a group meeting: who is next, and the offer of a free place to them.

The caller holds the locks of the meeting and of all students who wait for it.
"""

from datetime import datetime

from django.db.models import F, Q

from accounts.models import Student, User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.policy import offer_answer_by
from bookings.domain.vocabulary import Ended, PartStat, PlaceKind, Standing
from bookings.models import (
    Booking,
    Meeting,
    OutboxMessage,
    StudioPolicy,
    WaitingPlace,
    WaitingPlaceQuerySet,
)
from bookings.operations.audit import record
from bookings.operations.booking_state import end_booking
from bookings.operations.consents import check_minor_hours
from bookings.operations.locks import lock_meetings, lock_students
from bookings.operations.meeting_state import count_place
from bookings.queries.consents import has_consent
from bookings.queries.notes import latest_released
from bookings.queries.policies import policy_in_force
from bookings.queries.waiting import is_anybodys, line


def offer_next(meeting: Meeting, place_kind: PlaceKind, *, now: datetime) -> list[OutboxMessage]:
    """Offers free places to the first in line who may take one; returns the messages to enqueue.

    In the last four hours before the start nobody has time to answer: no offers are made, and
    everybody who waits is told that the first to accept gets the place. Before that, whoever an
    admin holds the next place for comes first, if they may take it; the others keep their rank.
    Nobody is offered a player place where the school chooses.
    """
    messages: list[OutboxMessage] = []
    if meeting.is_cancelled or meeting.starts_at <= now:
        return messages
    if place_kind == PlaceKind.PLAYER and meeting.players_are_chosen:
        return messages
    policy = policy_in_force(now)
    queue = sorted(line(meeting, place_kind), key=lambda waiting: not waiting.is_next)
    for waiting in list(queue):
        if meeting.is_full_for(place_kind):
            break
        answer_by = offer_answer_by(now, meeting.starts_at, waiting.student.zone)
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
        verb = "offered ahead of the queue" if waiting.is_next else "offered"
        WaitingPlace.objects.filter(pk=waiting.pk, is_next=True).update(is_next=False)
        record(actor=None, verb=verb, thing=offer, now=now)
        messages += notices.offer_made(offer, now=now)
    return messages


def offer_free_places(*, now: datetime) -> None:
    """Offers free places to those who wait and could not take one when it came free.

    An example is a child whose guardian has consented since. A place that is open to the first who
    accepts stays open.
    """
    in_turn = Q(players_are_chosen=False, waiting__place_kind=PlaceKind.PLAYER)
    free = in_turn & Q(taken__lt=F("places"))
    free |= Q(listeners_taken__lt=F("listener_places"), waiting__place_kind=PlaceKind.LISTENER)
    waited_for = Q(waiting__ended_at__isnull=True, waiting__offer__isnull=True) & free
    wanted = Meeting.objects.ahead(now).filter(waited_for).not_called_off()
    meetings = lock_meetings(wanted.values_list("pk", flat=True))
    lock_students(WaitingPlace.objects.for_meetings(meetings).waiting().student_ids())
    messages: list[OutboxMessage] = []
    for meeting in meetings.values():
        for place_kind in PlaceKind:
            if not is_anybodys(meeting, place_kind, now=now):
                messages += offer_next(meeting, place_kind, now=now)
    outbox.enqueue(messages, now=now)


def _may_take(student: Student, meeting: Meeting, policy: StudioPolicy, now: datetime) -> bool:
    """Whether an offer makes sense: consent, a minor's hours, and somebody to read it."""
    try:
        check_minor_hours(student, meeting, policy)
    except Refused:
        return False
    return has_consent(student, now=now) and bool(notices.readers_of(student, now=now))


def stop_listening(meeting: Meeting, student: Student, now: datetime) -> list[OutboxMessage]:
    """Frees the listener place of a student who becomes a player; returns the messages to enqueue.

    The place goes to the next who waits for one.
    """
    end_waiting(waiting_places_of(student, meeting, PlaceKind.LISTENER), Ended.PLACED, now)
    places = Booking.objects.of(student).live()
    listening = places.filter(meeting=meeting, place_kind=PlaceKind.LISTENER).first()
    if listening is None:
        return []
    end_booking(listening, why=Ended.MOVED, now=now)
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
    """A place in a group meeting, saved and counted. An offer has `waiting` and `answer_by`."""
    is_held = standing == Standing.HELD
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
        partstat=PartStat.ACCEPTED if is_held else PartStat.NEEDS_ACTION,
        assessment=latest_released(student) if is_held else None,
    )
    count_place(meeting, place_kind, 1)
    booking.save(force_insert=True)
    return booking


def waiting_places_of(
    student: Student, meeting: Meeting, place_kind: PlaceKind
) -> WaitingPlaceQuerySet:
    """The student's place in this queue, with or without an offer: one row or none."""
    return WaitingPlace.objects.waiting().filter(
        meeting=meeting, student=student, place_kind=place_kind
    )


def end_waiting(rows: WaitingPlaceQuerySet, why: Ended, now: datetime) -> None:
    """Ends these places in a queue."""
    rows.update(ended_at=now, ended_why=why)
