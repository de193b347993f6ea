"""Requests to move a one-on-one: a family asks, and the instructor or an admin answers."""

from datetime import datetime

from accounts.models import User
from bookings import notices, outbox
from bookings.domain.errors import Refused
from bookings.models import Booking, MoveRequest
from bookings.operations.audit import record
from bookings.operations.booking import move_slot
from bookings.operations.booking_state import check_not_ended, current_booking
from bookings.operations.locks import lock_instructors, lock_meetings
from bookings.operations.making_up import check_moves_in_time
from bookings.operations.proposed_state import close_proposals
from bookings.queries.explaining import check_teaches_then


def request_move(
    *, actor: User, booking: Booking, starts_at: datetime, now: datetime
) -> MoveRequest:
    """Asks for another start (UTC) in the teaching hours. The instructor may waive other rules.

    Refused: "wrong-kind", "already-ended", "past", "already-done" for the start of today,
    "outside-hours" for an hour that is not taught: a yes could not move the lesson there. And as
    `check_moves_in_time`.
    """
    lock_instructors([booking.meeting.instructor_id])
    meeting = lock_meetings([booking.meeting_id])[booking.meeting_id]
    current = current_booking(booking, version=None)
    if not meeting.offering.is_one_on_one:
        raise Refused(
            "wrong-kind",
            "The time of a group meeting is the school's: choose another meeting instead.",
        )
    check_not_ended(current, now)
    if starts_at <= now:
        raise Refused("past", "That time has passed: ask for one in the future.")
    if starts_at == current.starts_at:
        raise Refused("already-done", "The lesson is at that time already.")
    check_moves_in_time(current, starts_at)
    check_teaches_then(
        offering=meeting.offering, instructor=meeting.instructor, starts_at=starts_at, now=now
    )
    return ask_to_move(actor=actor, booking=current, starts_at=starts_at, sequence=None, now=now)


def ask_to_move(
    *, actor: User, booking: Booking, starts_at: datetime, sequence: int | None, now: datetime
) -> MoveRequest:
    """Stores the request and tells the instructor. The caller holds the meeting's lock.

    It replaces an unanswered request, and times proposed for the lesson. The same request again
    changes nothing. `sequence` is the SEQUENCE in a calendar's COUNTER; None where no calendar
    asks.
    """
    wish = {"asked_by": actor, "starts_at": starts_at, "sequence": sequence}
    same = MoveRequest.objects.unanswered().filter(booking=booking, **wish).first()
    if same is not None:
        return same
    # Whoever asks for another time turns down those proposed in answer to the request before.
    close_proposals(booking, now=now)
    asked, _ = MoveRequest.objects.update_or_create(
        booking=booking,
        state=MoveRequest.State.OPEN,
        defaults={**wish, "asked_at": now},
    )
    record(actor=actor, verb="asked to move", thing=asked, now=now)
    outbox.enqueue(notices.move_asked(asked, now=now), now=now)
    return asked


def accept_move_request(*, actor: User, request: MoveRequest, now: datetime) -> MoveRequest:
    """Moves the one-on-one to the start asked for. Refused as `move_slot`; the request stays open.

    Refused as `unanswered_request`, too.
    """
    unanswered_request(request)
    # The move takes all locks in order. The meeting's lock then keeps the request as it is read.
    move_slot(
        actor=actor,
        booking=request.booking,
        starts_at=request.starts_at,
        answering=request,
        now=now,
    )
    return _answered(unanswered_request(request), MoveRequest.State.ACCEPTED, actor, now)


def refuse_move_request(
    *, actor: User, request: MoveRequest, words: str = "", now: datetime
) -> MoveRequest:
    """Leaves the meeting as it is and tells the family, with the `words` of who refuses.

    A calendar that asked gets a DECLINECOUNTER.
    """
    meeting = lock_meetings([request.booking.meeting_id])[request.booking.meeting_id]
    current = _answered(unanswered_request(request), MoveRequest.State.REFUSED, actor, now)
    current.booking.meeting = meeting
    outbox.enqueue(notices.move_refused(current, words=words, now=now), now=now)
    return current


def close_unanswered(*, now: datetime) -> int:
    """Closes requests that nobody answered before the lesson began; returns how many."""
    begun = Booking.objects.filter(starts_at__lte=now).values("pk")
    rows = MoveRequest.objects.unanswered().filter(booking__in=begun)
    return rows.update(state=MoveRequest.State.CLOSED, answered_at=now)


def unanswered_request(request: MoveRequest) -> MoveRequest:
    """The request as it stands under the meeting's lock.

    Refused: "already-ended", "already-done", "stale".
    """
    current = MoveRequest.objects.select_related("asked_by", "booking__student__user").get(
        pk=request.pk
    )
    if current.state == MoveRequest.State.CLOSED:
        raise Refused(
            "already-ended",
            "The booking has ended, moved or begun since this was asked: "
            "there is nothing left to answer.",
        )
    if current.state != MoveRequest.State.OPEN:
        raise Refused("already-done", "This request has been answered already.")
    if (current.starts_at, current.asked_at) != (request.starts_at, request.asked_at):
        raise Refused("stale", "The family has just asked again. Read it again, then decide.")
    return current


def _answered(request: MoveRequest, state: str, actor: User, now: datetime) -> MoveRequest:
    request.state, request.answered_at = state, now
    request.save(update_fields=["state", "answered_at"])
    record(actor=actor, verb=f"{state} a move", thing=request, fields=["state"], now=now)
    return request
