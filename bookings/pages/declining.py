"""Declining a lesson that the school has booked or moved."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from bookings import clock
from bookings.access import access_own_booking
from bookings.models import Booking
from bookings.operations.declining import decline_booking
from bookings.pages.confirmation import Question, confirmed
from bookings.pages.ended_bookings import ended_page
from bookings.pages.parameters import read_version
from bookings.pages.signed_in import user_of
from bookings.pages.templatetags.formatting import day_and_time, zone_place


@login_required
@require_http_methods(["GET", "POST"])
def decline(request: HttpRequest, booking_id: int) -> HttpResponse:
    """GET says what declining means and until when; POST declines."""
    now, user = clock.now(), user_of(request)
    booking = access_own_booking(user, booking_id, now=now)
    gone = ended_page(request, booking, now) if request.method == "GET" else None
    question, version = _question(booking), read_version(request)
    return gone or confirmed(
        request,
        question,
        lambda: decline_booking(actor=user, booking=booking, version=version, now=now),
        done="Declined. You will not be charged, and the instructor is told.",
        to=question.back,
    )


def _question(booking: Booking) -> Question:
    here = booking.student.zone
    when = f"{day_and_time(booking.starts_at, here)} ({zone_place(here)})"
    follows = [f"{booking.meeting.offering.name} with {booking.meeting.instructor}: {when}."]
    if booking.decline_by is None:
        follows.append("The school did not choose this time, so it can be cancelled, not declined.")
    else:
        until = f"{day_and_time(booking.decline_by, here)} ({zone_place(here)})"
        follows.append(f"You can decline it free of charge until {until}.")
    return Question(
        title="Decline this lesson?",
        follows=follows,
        button="Decline it",
        back=reverse("my-lessons"),
        hidden={"version": booking.version},
    )
