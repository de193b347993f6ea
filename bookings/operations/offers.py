"""Offers of a place in a group meeting: accepted, declined, or lapsed without an answer."""

from datetime import datetime

from accounts.models import User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Ended, PartStat, PlaceKind, Standing
from bookings.models import Booking, Meeting, WaitingPlace
from bookings.operations.audit import record
from bookings.operations.booking_state import current_booking, end_booking
from bookings.operations.consents import check_minor_hours, require_consent
from bookings.operations.joining import check_is_free, lock_queue
from bookings.operations.locks import lock_meetings, lock_students
from bookings.operations.meeting_state import count_place
from bookings.operations.queues import end_waiting, offer_next, stop_listening
from bookings.queries.notes import latest_released
from bookings.queries.policies import policy_in_force


def accept_offer(
    *, actor: User, booking: Booking, version: int | None = None, now: datetime
) -> Booking:
    """The offered place becomes the student's; a listener place in the same meeting ends.

    Refused: "offer-ended", "own-clash", "stale", and as `require_consent` and `check_minor_hours`.
    """
    meeting = lock_meetings([booking.meeting_id])[booking.meeting_id]
    student = lock_queue(meeting, booking.student_id)[booking.student_id]
    current = _open_offer(booking, version, now)
    current.meeting, current.student = meeting, student
    require_consent(student, now=now)
    check_minor_hours(student, meeting, policy_in_force(now))
    is_player = current.place_kind == PlaceKind.PLAYER
    freed = stop_listening(meeting, student, now) if is_player else []
    check_is_free(student, meeting)
    current.standing, current.partstat, current.answer_by = Standing.HELD, PartStat.ACCEPTED, None
    current.assessment = latest_released(student)
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
    """Declines an offer. The student leaves the waiting list, and the place goes to the next."""
    meeting = lock_meetings([booking.meeting_id])[booking.meeting_id]
    lock_queue(meeting, booking.student_id)
    return end_offer(actor, _open_offer(booking, version, now), meeting, Ended.DECLINED, now)


def lapse_offers(*, now: datetime) -> int:
    """Ends every offer whose time to answer has passed, and passes its place on.

    Returns how many lapsed.
    """
    due = Booking.objects.offered().filter(answer_by__lte=now)
    meetings = lock_meetings(due.values_list("meeting_id", flat=True))
    lapsed = list(due.in_meetings(meetings).with_student())
    waiting = WaitingPlace.objects.for_meetings(meetings).waiting()
    lock_students([*(offer.student_id for offer in lapsed), *waiting.student_ids()])
    for offer in lapsed:
        end_offer(None, offer, meetings[offer.meeting_id], Ended.LAPSED, now)
    return len(lapsed)


def end_offer(
    actor: User | None,
    offer: Booking,
    meeting: Meeting,
    why: Ended,
    now: datetime,
    *,
    reason: str = "",
) -> Booking:
    """Ends an offer with its place on the waiting list, and offers the place to the next.

    The caller holds the locks of `lock_queue`. `actor` is None where an offer lapses.
    """
    place_kind = PlaceKind(offer.place_kind)
    offer.meeting = meeting
    end_booking(offer, why=why, now=now)
    end_waiting(WaitingPlace.objects.filter(offer=offer), why, now)
    count_place(meeting, place_kind, -1)
    record(actor=actor, verb=why.value, thing=offer, fields=["standing"], reason=reason, now=now)
    messages = notices.booking_ended(offer, now=now)
    outbox.enqueue(messages + offer_next(meeting, place_kind, now=now), now=now)
    return offer


def _open_offer(booking: Booking, version: int | None, now: datetime) -> Booking:
    current = current_booking(booking, version=version)
    if current.standing != Standing.OFFERED:
        raise Refused("offer-ended", "This offer has been answered or has ended.")
    if current.answer_by is None or now >= current.answer_by or now >= current.starts_at:
        raise Refused(
            "offer-ended",
            "The time to answer has passed and the place goes to the next in line. "
            "Join the waiting list again.",
        )
    return current
