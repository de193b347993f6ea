"""The page of a booking that has begun or ended. It has words, and no form."""

from datetime import datetime

from django.http import HttpRequest, HttpResponse

from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Ended, Standing
from bookings.models import Booking
from bookings.pages.showing import show

_WHY = {
    Ended.CANCELLED_IN_TIME: "This has been cancelled.",
    Ended.CANCELLED_LATE: "This has been cancelled late, and is charged.",
    Ended.CALLED_OFF: "The school has called this off.",
    Ended.REMOVED: "The school has removed you from this meeting.",
    Ended.DECLINED: "This place was declined. Join the waiting list again if you still want one.",
    Ended.LAPSED: "This offer has ended. Join the waiting list again if you still want a place.",
}


def ended_page(
    request: HttpRequest, booking: Booking, now: datetime, *, refusal: Refused | None = None
) -> HttpResponse | None:
    """The page that says what happened; None for a booking that can still be changed."""
    if booking.is_live and booking.starts_at > now and not _has_lapsed(booking, now):
        return None
    words = _words(booking, now)
    context = {"booking": booking, "student": booking.student, "words": words, "refusal": refusal}
    return show(request, "levare/ended.html", context)


def _words(booking: Booking, now: datetime) -> str:
    """One sentence: what has happened to this booking."""
    if _has_lapsed(booking, now):
        return _WHY[Ended.LAPSED]
    if booking.ended_why == Ended.DECLINED and booking.meeting.offering.is_one_on_one:
        return "This lesson was declined and is not charged."
    if not booking.is_live:
        return _WHY.get(Ended(booking.ended_why), "This booking has ended.")
    if booking.ends_at > now:
        return "This has begun, so nothing can be changed any more."
    return "This is over, so nothing can be changed any more."


def _has_lapsed(booking: Booking, now: datetime) -> bool:
    """Whether this is an offer that nobody has answered in time."""
    is_offer = booking.standing == Standing.OFFERED
    return is_offer and booking.answer_by is not None and booking.answer_by <= now
