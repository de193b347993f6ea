"""Places in group meetings: book, leave, wait, and the offer of a freed place to the first in line.

The queue is read and changed under its meeting's lock only, so its order never depends on luck.
"""

from datetime import datetime

from accounts.models import Student, User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.joining import check_joins
from bookings.domain.slots import StudentTime
from bookings.domain.vocabulary import Ended, PartStat, PlaceKind, Standing
from bookings.models import Booking, Meeting, WaitingPlace
from bookings.operations.audit import record
from bookings.operations.booking import check_not_ended, end, fresh, why_cancelled
from bookings.operations.consents import check_consent, check_hours
from bookings.operations.counting import count_place, places, taken
from bookings.operations.locks import lock_meeting, lock_meetings, lock_students
from bookings.operations.queues import (
    end_offer,
    end_waiting,
    new_booking,
    offer_next,
    stop_listening,
    waits,
)
from bookings.queries.joining import joinable, joiner_of
from bookings.queries.notes import latest_released
from bookings.queries.teaching import policy_in_force, student_time
from bookings.queries.waiting import is_anybodys


def book_place(
    *,
    actor: User,
    student: Student,
    meeting: Meeting,
    place_kind: PlaceKind,
    reason: str = "",
    ahead_of_queue: bool = False,
    meeting_version: int | None = None,
    now: datetime,
) -> Booking:
    """A place in a group meeting; "no-place" names the waiting list. `reason` is the admin's, where she adds somebody.

    Refused("stale") where the meeting, its roster or its waiting list is not as she read it, if `meeting_version` says so.

    `ahead_of_queue` is her exception: a free place goes to somebody although others wait, who keep their rank. It needs
    the reason, is a verb of its own in the audit, and never exceeds the places.
    """
    if ahead_of_queue and not (actor.is_staff and reason.strip()):
        raise Refused(
            "invalid",
            "Only an admin places somebody ahead of those who wait, and says why.",
            field="reason",
        )
    locked, her = _lock(meeting, student, meeting_version)
    _check_joins(actor, her, locked, place_kind, now=now)
    if taken(locked, place_kind) >= places(locked, place_kind):
        raise Refused(
            "no-place",
            "Every place is taken or offered, so nobody can be put ahead of the waiting list. Give "
            "them the place of somebody who leaves, or wait until an offer is answered."
            if ahead_of_queue
            else "Every place is taken. Join the waiting list: a freed place is offered to the "
            "first in line.",
        )
    passes = not is_anybodys(locked, place_kind, now=now)
    if passes and not ahead_of_queue:
        raise Refused("no-place", "The free place is kept for those on the waiting list. Join it.")
    freed = stop_listening(locked, her, now) if place_kind == PlaceKind.PLAYER else []
    policy = policy_in_force(now)
    booking = new_booking(locked, her, place_kind, Standing.HELD, policy, actor=actor, now=now)
    end_waiting(waits(locked, her, place_kind), Ended.PLACED, now)
    record(
        actor=actor,
        verb="booked ahead of the queue" if passes else "booked",
        thing=booking,
        reason=reason,
        now=now,
    )
    outbox.enqueue(notices.booking_made(booking, now=now) + freed, now=now)
    return booking


def leave_place(
    *,
    actor: User,
    booking: Booking,
    version: int | None = None,
    meeting_version: int | None = None,
    reason: str = "",
    said: str = "",
    passes_on: bool = True,
    now: datetime,
) -> Booking:
    """Gives a place in a group meeting back; it goes to the first in line in this same transaction.

    `reason` is an admin's, for the record; `said` is a sentence for those who are told. Without
    `passes_on` a held place is the caller's to give, in the same transaction.
    """
    meeting = lock_meeting(booking.meeting_id, version=meeting_version)
    if meeting.offering.is_one_on_one:
        raise Refused(
            "wrong-kind",
            "A one-on-one is cancelled with its meeting, by its booking, or called off.",
        )
    _lock_people(meeting, booking.student_id)
    current = fresh(booking, version=version)
    by_office = reason != ""
    if current.standing == Standing.OFFERED:
        return end_offer(
            actor,
            current,
            meeting,
            Ended.REMOVED if by_office else Ended.DECLINED,
            now,
            reason=reason,
        )
    check_not_ended(current, now)
    current.meeting = meeting
    end(current, why=Ended.REMOVED if by_office else why_cancelled(current, now), now=now)
    count_place(meeting, PlaceKind(current.place_kind), -1)
    record(
        actor=actor,
        verb="removed" if by_office else "cancelled",
        thing=current,
        fields=["standing"],
        reason=reason,
        now=now,
    )
    messages = notices.booking_ended(current, said=said, now=now)
    if passes_on:
        messages += offer_next(meeting, PlaceKind(current.place_kind), now=now)
    outbox.enqueue(messages, now=now)
    return current


def change_meeting(
    *, actor: User, booking: Booking, meeting: Meeting, version: int | None = None, now: datetime
) -> Booking:
    """Leaves one group meeting and joins another in one transaction; where the new one is full nothing changes."""
    lock_meetings([booking.meeting_id, meeting.pk])
    current = fresh(booking, version=version)
    if current.standing != Standing.HELD:
        raise Refused("already-ended", "Only a place that is yours can move.")
    if why_cancelled(current, now) is Ended.CANCELLED_LATE:
        raise Refused(
            "notice-passed",
            "The cancellation deadline has passed, so this place can no longer be moved. You can still cancel it.",
        )
    if meeting.offering_id != current.meeting.offering_id or meeting.offering.is_one_on_one:
        raise Refused("wrong-kind", "Choose another meeting of the same offering.")
    if meeting.pk == current.meeting_id:
        raise Refused(
            "already-booked",
            "The student already has a place in this meeting. Choose another meeting.",
        )
    leave_place(actor=actor, booking=current, now=now)
    return book_place(
        actor=actor,
        student=current.student,
        meeting=meeting,
        place_kind=PlaceKind(current.place_kind),
        now=now,
    )


def join_waiting_list(
    *, actor: User, student: Student, meeting: Meeting, place_kind: PlaceKind, now: datetime
) -> WaitingPlace:
    """The last place in the queue, in order of joining; refused while places are free for the taking."""
    locked, her = _lock(meeting, student)
    _check_joins(actor, her, locked, place_kind, now=now, clash=False)
    if taken(locked, place_kind) < places(locked, place_kind) and is_anybodys(
        locked, place_kind, now=now
    ):
        raise Refused("places-free", "A place is free: book it instead of waiting.")
    if waits(locked, her, place_kind).exists():
        raise Refused("already-waiting", "The student is already on this waiting list.")
    waiting = WaitingPlace.objects.create(
        meeting=locked, student=her, place_kind=place_kind, joined_at=now, joined_by=actor
    )
    _queue_changed(locked)
    record(actor=actor, verb="joined waiting list", thing=waiting, now=now)
    # A place may be free that nobody before her may take: without consent, or in a minor's night.
    outbox.enqueue(offer_next(locked, place_kind, now=now), now=now)
    return waiting


def leave_waiting_list(
    *,
    actor: User,
    student: Student,
    meeting: Meeting,
    place_kind: PlaceKind,
    meeting_version: int | None = None,
    now: datetime,
) -> WaitingPlace:
    """Off the queue; an offer that stands is declined with it."""
    locked, _ = _lock(meeting, student, meeting_version)
    waiting = waits(locked, student, place_kind).first()
    if waiting is None:
        raise Refused("not-waiting", "The student is not on this waiting list.")
    offer = Booking.objects.filter(waiting_place=waiting, standing=Standing.OFFERED).first()
    if offer is not None:
        end_offer(actor, fresh(offer, version=None), locked, Ended.DECLINED, now)
        waiting.refresh_from_db()
        return waiting
    end_waiting(WaitingPlace.objects.filter(pk=waiting.pk), Ended.LEFT, now)
    _queue_changed(locked)
    record(actor=actor, verb="left waiting list", thing=waiting, now=now)
    waiting.refresh_from_db()
    return waiting


def accept_offer(
    *, actor: User, booking: Booking, version: int | None = None, now: datetime
) -> Booking:
    """The offered place becomes hers; a clash of time is solved now, and her listener booking in the same meeting ends."""
    meeting = lock_meetings([booking.meeting_id])[booking.meeting_id]
    her = _lock_people(meeting, booking.student_id)[booking.student_id]
    current = _open_offer(booking, version, now)
    current.meeting, current.student = meeting, her
    check_consent(her, now=now)
    check_hours(her, meeting, policy_in_force(now))
    freed = stop_listening(meeting, her, now) if current.place_kind == PlaceKind.PLAYER else []
    _check_free(student_time(her, meeting.starts_at, meeting.ends_at, ignoring=meeting.pk))
    current.standing, current.partstat, current.answer_by = Standing.HELD, PartStat.ACCEPTED, None
    current.assessment = latest_released(her)
    current.version += 1
    current.save(update_fields=["standing", "partstat", "answer_by", "assessment", "version"])
    meeting.version += 1
    meeting.save(update_fields=["version"])
    end_waiting(WaitingPlace.objects.filter(offer=current), Ended.PLACED, now)
    outbox.withdraw_offer(current.pk)
    record(actor=actor, verb="accepted", thing=current, fields=["standing"], now=now)
    outbox.enqueue(notices.booking_made(current, now=now) + freed, now=now)
    return current


def decline_offer(
    *, actor: User, booking: Booking, version: int | None = None, now: datetime
) -> Booking:
    """Says no: off the list, and the place goes to the next."""
    meeting = lock_meetings([booking.meeting_id])[booking.meeting_id]
    _lock_people(meeting, booking.student_id)
    return end_offer(actor, _open_offer(booking, version, now), meeting, Ended.DECLINED, now)


def lapse_offers(*, now: datetime) -> int:
    """Ends every offer whose time to answer has passed and passes the place on; how many lapsed."""
    due = Booking.objects.filter(standing=Standing.OFFERED, answer_by__lte=now)
    meetings = lock_meetings(due.values_list("meeting_id", flat=True))
    lapsed = list(due.filter(meeting__in=meetings).select_related("policy", "student__user"))
    queued = WaitingPlace.objects.filter(meeting__in=meetings, ended_at__isnull=True).values_list(
        "student_id", flat=True
    )
    lock_students([*(offer.student_id for offer in lapsed), *queued])
    for offer in lapsed:
        end_offer(None, offer, meetings[offer.meeting_id], Ended.LAPSED, now)
    return len(lapsed)


def _lock(
    meeting: Meeting, student: Student, version: int | None = None
) -> tuple[Meeting, Student]:
    locked = lock_meeting(meeting.pk, version=version)
    return locked, _lock_people(locked, student.pk)[student.pk]


def _queue_changed(meeting: Meeting) -> None:
    """Who waits is part of what is read of a meeting by those who run it."""
    meeting.version += 1
    meeting.save(update_fields=["version"])


def _lock_people(meeting: Meeting, student_id: int) -> dict[int, Student]:
    """She and all who wait, in one step: whatever she frees is offered to them in this transaction."""
    waiting = WaitingPlace.objects.filter(meeting=meeting, ended_at__isnull=True).values_list(
        "student_id", flat=True
    )
    return lock_students([student_id, *waiting])


def _check_joins(
    actor: User,
    her: Student,
    meeting: Meeting,
    place_kind: PlaceKind,
    *,
    now: datetime,
    clash: bool = True,
) -> None:
    check_joins(
        joiner_of(her, [meeting], now=now),
        joinable([meeting])[meeting.pk],
        place_kind,
        any_level=actor.is_staff,
        clash=clash,
        now=now,
    )


def _check_free(her_time: StudentTime) -> None:
    if her_time.meetings:
        raise Refused(
            "own-clash",
            "The student already has a lesson or meeting at that time: move or cancel it first.",
        )


def _open_offer(booking: Booking, version: int | None, now: datetime) -> Booking:
    current = fresh(booking, version=version)
    if current.standing != Standing.OFFERED:
        raise Refused("offer-ended", "This offer has been answered or has ended.")
    if current.answer_by is None or now >= current.answer_by or now >= current.starts_at:
        raise Refused(
            "offer-ended",
            "The time to answer has passed and the place goes to the next in line. Join the waiting list again.",
        )
    return current
