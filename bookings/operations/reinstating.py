"""Reinstating a meeting that was called off, with those who were in it and can still come."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from accounts.models import User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Ended, MeetingStatus, PlaceKind, Standing
from bookings.domain.zones import TZDATA_VERSION
from bookings.models import (
    Booking,
    BookingQuerySet,
    Meeting,
    OwedLesson,
    WaitingPlace,
    WaitingPlaceQuerySet,
)
from bookings.operations.audit import record
from bookings.operations.calling_off import once_invited
from bookings.operations.carried import carry
from bookings.operations.locks import lock_meeting, lock_students, lock_teachers
from bookings.operations.owed_state import check_may_take_back, owe_for
from bookings.operations.queues import offer_next
from bookings.queries.consents import has_consent
from bookings.queries.instructor_times import instructors_time
from bookings.queries.notes import latest_released
from bookings.queries.retiming import shift_of
from bookings.queries.student_times import student_time
from bookings.queries.waiting import waiting_in

_RESTORED = (
    "starts_at",
    "ends_at",
    "standing",
    "ended_at",
    "ended_why",
    "is_flagged",
    "assessment",
    "version",
)


@dataclass(frozen=True, slots=True)
class Return:
    """The bookings that come back with a meeting, and those that cannot."""

    back: list[Booking]
    left_out: list[notices.LeftOut]


@dataclass(frozen=True, slots=True)
class Reinstated:
    """A reinstated meeting, and the bookings that did not come back with it."""

    meeting: Meeting
    left_out: list[notices.LeftOut]


def reinstate_meeting(
    *, actor: User, meeting: Meeting, version: int | None = None, now: datetime
) -> Reinstated:
    """Reinstates a meeting: the same UID, a higher SEQUENCE, CONFIRMED (RFC 5546 section 2.1.4).

    Bookings come back under the policy under which they were made, and the waiting list in its old
    order. An offer that was open is made anew. Students who have another meeting by now, no consent
    or have left the school do not come back; their families are told, and the result names them.
    Refused as `who_returns`, and "stale".
    """
    ended = Booking.objects.in_meetings([meeting]).filter(ended_why=Ended.CALLED_OFF)
    students = [booking.student for booking in ended.select_related("student")]
    lock_teachers([meeting.instructor_id], students)
    current = lock_meeting(meeting.pk, version=version)
    queue = _queue_ended_with(current)
    waiting_ids = list(queue.values_list("pk", flat=True))
    lock_students([*_ended_with(current).student_ids(), *queue.student_ids()])
    found = who_returns(current, now=now)
    _put_back(current, found.back, now)
    for booking in found.back:
        owe_for(booking, actor=actor, now=now)
    # An old offer is over. Its waiting place is the first in line for a new one.
    Booking.objects.filter(waiting_place__in=waiting_ids).update(waiting_place=None)
    WaitingPlace.objects.filter(pk__in=waiting_ids).update(ended_at=None, ended_why="")
    record(actor=actor, verb="reinstated", thing=current, fields=["status"], now=now)
    offers = [message for kind in PlaceKind for message in offer_next(current, kind, now=now)]
    messages = notices.reinstated(
        current,
        found.back,
        left_out=found.left_out,
        waiting=waiting_in([current]),
        asked={message.reader_id for message in offers},
        now=now,
    )
    outbox.enqueue([*messages, *offers], now=now, shown_to=once_invited([current]))
    return Reinstated(current, found.left_out)


def who_returns(meeting: Meeting, *, now: datetime) -> Return:
    """The bookings that come back if the meeting is reinstated now.

    Refused: "already-done" where it is not called off; "past"; "already-ended" where the student
    has cancelled it, or its weekly place has been given up since; "not-taught"; "taken";
    "owed-settled" where its make-up lesson has been booked. A one-on-one is also refused where its
    student cannot come.
    """
    _check_can_take_place(meeting, now)
    back, left_out = list[Booking](), list[notices.LeftOut]()
    for booking in _ended_with(meeting).filter(answer_by__isnull=True):
        code = _what_stands_against(booking, meeting, now)
        if code:
            left_out.append(notices.LeftOut(booking, code))
        else:
            back.append(booking)
    if left_out and meeting.offering.is_one_on_one:
        one = left_out[0]
        student = one.booking.student
        raise Refused(one.code, f"{student.first_name} cannot come: {one.why}.", student=student.pk)
    for owed in OwedLesson.objects.filter(booking__in=[booking.pk for booking in back]):
        check_may_take_back(owed)
    return Return(back, left_out)


def can_return(meeting: Meeting, *, now: datetime) -> bool:
    """Whether the meeting could be reinstated now. A group takes place with whoever can come."""
    try:
        if meeting.offering.is_one_on_one:
            who_returns(meeting, now=now)
        else:
            _check_can_take_place(meeting, now)
    except Refused:
        return False
    return True


def _check_can_take_place(meeting: Meeting, now: datetime) -> None:
    if not meeting.is_cancelled:
        raise Refused(
            "already-done", "This meeting is not called off: there is nothing to reinstate."
        )
    _take_to_promise(meeting)
    if meeting.starts_at <= now:
        raise Refused("past", "The time of this meeting has passed; make a new one.")
    if meeting.offering.is_one_on_one and not _ended_with(meeting).exists():
        raise Refused(
            "already-ended",
            "This one-on-one was cancelled by its student, who can book another time.",
        )
    if meeting.weekly_place is not None and meeting.weekly_place.ended_at is not None:
        raise Refused(
            "already-ended",
            "The weekly place of this lesson has been given up; the student can book another time.",
        )
    if not meeting.instructor.is_active:
        raise Refused("not-taught", f"{meeting.instructor} does not teach here any more.")
    (taught,) = instructors_time(
        [meeting.instructor], meeting.starts_at, meeting.held_until, ignoring=(meeting.pk,)
    )
    if any(
        held.starts_at < meeting.held_until and meeting.starts_at < held.ends_at
        for held in taught.meetings
    ):
        raise Refused(
            "taken", f"{meeting.instructor} now has another meeting then, changeover included."
        )


def _take_to_promise(meeting: Meeting) -> None:
    """Puts the meeting where the installed zone rules put its wall time, in memory.

    Retiming leaves a meeting alone while it is called off. It flags a start in a gap of the clock.
    """
    shift = shift_of(meeting)
    if meeting.tzdata_version != TZDATA_VERSION and not shift.is_gap:
        meeting.starts_at, meeting.ends_at, meeting.held_until = (
            instant + shift.by
            for instant in (meeting.starts_at, meeting.ends_at, meeting.held_until)
        )
        meeting.tzdata_version = TZDATA_VERSION


def _ended_with(meeting: Meeting) -> BookingQuerySet:
    """The bookings that ended when the meeting was last called off: they have the same instant."""
    rows = Booking.objects.in_meetings([meeting])
    ended = rows.filter(ended_why=Ended.CALLED_OFF, ended_at=meeting.changed_at)
    return ended.with_student().order_by("pk")


def _queue_ended_with(meeting: Meeting) -> WaitingPlaceQuerySet:
    """The waiting list as it stood then, without students who have left the school."""
    rows = WaitingPlace.objects.for_meetings([meeting])
    ended = rows.filter(ended_why=Ended.CALLED_OFF, ended_at=meeting.changed_at)
    return ended.filter(student__is_active=True)


def _what_stands_against(booking: Booking, meeting: Meeting, now: datetime) -> str:
    """The code of what keeps a student from their old place; empty where nothing does."""
    student = booking.student
    if not student.is_active:
        return "already-ended"
    if student_time(student, meeting.starts_at, meeting.ends_at, ignoring=(meeting.pk,)).meetings:
        return "own-clash"
    return "" if has_consent(student, now=now) else "consent-missing"


def _put_back(meeting: Meeting, bookings: Collection[Booking], now: datetime) -> None:
    """Writes the meeting and its bookings as they were.

    A flag is cleared, because both have just been checked against everything else. An assessment
    may have been released meanwhile.
    """
    kinds = [booking.place_kind for booking in bookings]
    meeting.taken = kinds.count(PlaceKind.PLAYER)
    meeting.listeners_taken = kinds.count(PlaceKind.LISTENER)
    meeting.status, meeting.called_off_why = MeetingStatus.CONFIRMED, ""
    meeting.is_flagged, meeting.flagged_why = False, ""
    meeting.sequence += 1
    meeting.version += 1
    meeting.changed_at = now
    meeting.save()
    for booking in bookings:
        booking.meeting = meeting
        booking.starts_at, booking.ends_at = meeting.starts_at, meeting.ends_at
        booking.standing, booking.ended_at, booking.ended_why = Standing.HELD, None, ""
        booking.is_flagged, booking.assessment = False, latest_released(booking.student)
        booking.version += 1
        booking.save(update_fields=_RESTORED)
    carry(bookings)
