"""A booking as it stands under the locks: read, checked and ended."""

from datetime import datetime

from bookings import outbox
from bookings.domain.errors import Refused
from bookings.domain.policy import cancel_by
from bookings.domain.vocabulary import Ended, Standing
from bookings.models import Booking, MoveRequest
from bookings.operations.carried import carry
from bookings.operations.proposed_state import close_proposals
from bookings.operations.versions import check_version


def current_booking(booking: Booking, *, version: int | None) -> Booking:
    """The booking as it stands under the locks. Refused("stale") as in `check_version`."""
    current = Booking.objects.with_details().get(pk=booking.pk)
    check_version(current, version)
    return current


def check_not_ended(booking: Booking, now: datetime) -> None:
    """Refuses with "already-ended" or, where the meeting has begun, with "past"."""
    if not booking.is_live:
        raise Refused("already-ended", "This booking has already ended.")
    if booking.starts_at <= now:
        raise Refused("past", "The meeting has begun; what happened is marked in the register.")


def check_notice(booking: Booking, now: datetime) -> None:
    """Refuses where the booking has ended or can no longer be cancelled in time."""
    check_not_ended(booking, now)
    if why_cancelled(booking, now) is Ended.CANCELLED_LATE:
        raise Refused(
            "notice-passed",
            "The cancellation deadline has passed, so this can no longer be moved. "
            "You can still cancel it, and that is charged.",
        )


def why_cancelled(booking: Booking, now: datetime) -> Ended:
    """CANCELLED_IN_TIME or CANCELLED_LATE, by the policy under which the booking was made."""
    in_time = now <= cancel_by(booking.policy.rules(), booking.starts_at)
    return Ended.CANCELLED_IN_TIME if in_time else Ended.CANCELLED_LATE


def end_booking(booking: Booking, *, why: Ended, now: datetime) -> None:
    """Ends the booking with its reminders and requests. The caller frees the place."""
    if booking.answer_by is not None:
        outbox.withdraw_offer(booking.pk)
    booking.standing, booking.ended_at, booking.ended_why = Standing.ENDED, now, why
    booking.version += 1
    booking.save(update_fields=["standing", "ended_at", "ended_why", "version"])
    carry([booking])
    close_move_requests(booking, now=now)


def close_move_requests(
    booking: Booking, *, answering: MoveRequest | None = None, now: datetime
) -> None:
    """Closes the unanswered requests to move this booking, except `answering`, and proposals."""
    rows = MoveRequest.objects.unanswered().filter(booking=booking)
    if answering is not None:
        rows = rows.exclude(pk=answering.pk)
    rows.update(state=MoveRequest.State.CLOSED, answered_at=now)
    close_proposals(booking, now=now)
