"""A meeting that was called off takes place after all: who was in it is in it again, where that still can be."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import QuerySet

from accounts.models import User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Ended, MeetingStatus, PlaceKind, Standing
from bookings.domain.zones import TZDATA_VERSION
from bookings.models import Booking, Meeting, WaitingPlace
from bookings.operations.audit import record
from bookings.operations.locks import lock_meeting, lock_students, lock_teachers
from bookings.operations.meetings import once_invited
from bookings.operations.queues import offer_next
from bookings.queries.consents import has_consent
from bookings.queries.notes import latest_released
from bookings.queries.retiming import shift_of
from bookings.queries.teaching import instructors_time, student_time
from bookings.queries.waiting import waiting_in


@dataclass(frozen=True, slots=True)
class Return:
    """Who gets a place back in a meeting that was called off, and who cannot."""

    back: list[Booking]
    left_out: list[notices.LeftOut]


@dataclass(frozen=True, slots=True)
class Reinstated:
    """A meeting that takes place after all, and who is not in it again."""

    meeting: Meeting
    left_out: list[notices.LeftOut]


def reinstate_meeting(
    *, actor: User, meeting: Meeting, version: int | None = None, now: datetime
) -> Reinstated:
    """What was called off as a whole takes place after all: the same UID, a higher SEQUENCE, STATUS:CONFIRMED (RFC 5546 section 2.1.4).

    Places are given back under the policy they were booked under. Who waited waits again in the old order; an offer that
    was open is made anew. Who has another meeting by now, no consent, or has left the school, is told so and named.
    Refused as `who_returns` says.
    """
    ended = Booking.objects.filter(meeting=meeting, ended_why=Ended.CALLED_OFF).select_related(
        "student"
    )
    lock_teachers([meeting.instructor_id], [booking.student for booking in ended])
    current = lock_meeting(meeting.pk, version=version)
    waited = WaitingPlace.objects.filter(
        meeting=current,
        ended_at=current.changed_at,
        ended_why=Ended.CALLED_OFF,
        student__is_active=True,
    )
    queue = list(waited.values_list("pk", "student_id"))
    lock_students(
        [
            *_ended_with(current).values_list("student_id", flat=True),
            *(student_id for _, student_id in queue),
        ]
    )
    found = who_returns(current, now=now)
    _put_back(current, found.back, now)
    # An offer has had its time: its waiting place stands in line again and is the first to be offered what is free.
    Booking.objects.filter(waiting_place__in=waited).update(waiting_place=None)
    WaitingPlace.objects.filter(pk__in=[pk for pk, _ in queue]).update(ended_at=None, ended_why="")
    record(actor=actor, verb="reinstated", thing=current, fields=["status"], now=now)
    offers = [message for kind in PlaceKind for message in offer_next(current, kind, now=now)]
    asked = {message.recipient_id for message in offers}
    messages = notices.reinstated(
        current,
        found.back,
        left_out=found.left_out,
        waiting=waiting_in([current]),
        asked=asked,
        now=now,
    )
    outbox.enqueue([*messages, *offers], now=now, shown_to=once_invited(current))
    return Reinstated(current, found.left_out)


def who_returns(meeting: Meeting, *, now: datetime) -> Return:
    """Who would get a place back if the meeting were reinstated now; under the locks, who does.

    Refused: "already-done" where it is not called off; "past"; "already-ended" where it ended by its student's cancelling, or
    its weekly place has been given up since; "not-taught"; "taken"; for a one-on-one also what stands against its student.
    """
    _check_stands_ready(meeting, now)
    back, left_out = list[Booking](), list[notices.LeftOut]()
    for booking in _ended_with(meeting).filter(answer_by__isnull=True):
        code = _what_stands_against(booking, meeting, now)
        if code:
            left_out.append(notices.LeftOut(booking, code))
        else:
            back.append(booking)
    if left_out and meeting.offering.is_one_on_one:
        her = left_out[0].booking.student
        raise Refused(
            left_out[0].code, f"{her.first_name} cannot come: {left_out[0].why}.", student=her.pk
        )
    return Return(back, left_out)


def can_return(meeting: Meeting, *, now: datetime) -> bool:
    """Whether the meeting could be reinstated now; of a group nobody is looked at, for it takes place with whoever can come."""
    try:
        who_returns(meeting, now=now) if meeting.offering.is_one_on_one else _check_stands_ready(
            meeting, now
        )
    except Refused:
        return False
    return True


def _check_stands_ready(meeting: Meeting, now: datetime) -> None:
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
    (hers,) = instructors_time(
        [meeting.instructor], meeting.starts_at, meeting.held_until, ignoring=meeting.pk
    )
    if any(
        held.starts_at < meeting.held_until and meeting.starts_at < held.ends_at
        for held in hers.meetings
    ):
        raise Refused(
            "taken", f"{meeting.instructor} now has another meeting then, changeover included."
        )


def _take_to_promise(meeting: Meeting) -> None:
    """In memory, to where the installed zone rules put its wall time: what is called off is not retimed. One in a gap retiming flags."""
    shift = shift_of(meeting)
    if meeting.tzdata_version != TZDATA_VERSION and not shift.is_gap:
        meeting.starts_at, meeting.ends_at, meeting.held_until = (
            instant + shift.by
            for instant in (meeting.starts_at, meeting.ends_at, meeting.held_until)
        )
        meeting.tzdata_version = TZDATA_VERSION


def _ended_with(meeting: Meeting) -> QuerySet[Booking]:
    """The bookings that this calling-off ended, not those of an earlier one: it wrote one instant on the meeting and on them."""
    rows = Booking.objects.filter(
        meeting=meeting, ended_why=Ended.CALLED_OFF, ended_at=meeting.changed_at
    )
    return rows.select_related("policy", "student__user").order_by("pk")


def _what_stands_against(booking: Booking, meeting: Meeting, now: datetime) -> str:
    """The code of what keeps a student from her old place; empty where nothing does."""
    if not booking.student.is_active:
        return "already-ended"
    if student_time(
        booking.student, meeting.starts_at, meeting.ends_at, ignoring=meeting.pk
    ).meetings:
        return "own-clash"
    return "" if has_consent(booking.student, now=now) else "consent-missing"


def _put_back(meeting: Meeting, bookings: Iterable[Booking], now: datetime) -> None:
    """Both were judged against all that stands, so a flag of old zone rules goes. An assessment may have been released meanwhile."""
    kinds = [booking.place_kind for booking in bookings]
    meeting.taken, meeting.listeners_taken = (
        kinds.count(PlaceKind.PLAYER),
        kinds.count(PlaceKind.LISTENER),
    )
    meeting.status, meeting.called_off_why = MeetingStatus.CONFIRMED, ""
    meeting.is_flagged, meeting.flagged_why = False, ""
    meeting.sequence += 1
    meeting.version += 1
    meeting.changed_at = now
    meeting.save()
    for booking in bookings:
        booking.meeting, booking.starts_at, booking.ends_at = (
            meeting,
            meeting.starts_at,
            meeting.ends_at,
        )
        booking.standing, booking.ended_at, booking.ended_why = Standing.HELD, None, ""
        booking.is_flagged, booking.assessment = False, latest_released(booking.student)
        booking.version += 1
        booking.save(
            update_fields=[
                "starts_at",
                "ends_at",
                "standing",
                "ended_at",
                "ended_why",
                "is_flagged",
                "assessment",
                "version",
            ]
        )
