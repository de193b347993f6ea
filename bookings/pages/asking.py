"""A family asks for a start that is not offered, or to move after the notice: who teaches the lesson answers."""

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from bookings import clock
from bookings.access import access_own_booking
from bookings.domain.errors import Refused
from bookings.domain.instants import resolve_once
from bookings.door import write
from bookings.operations.move_requests import request_move
from bookings.pages.acting import person
from bookings.pages.fields import ClockField, DayField, wall_time
from bookings.pages.lessons import as_lesson
from bookings.queries.move_requests import open_request


class WishForm(forms.Form):
    """A day and a time of the student's clock."""

    on = DayField(label="Day")
    at = ClockField(label="Time, such as 17:30")


@login_required
@require_http_methods(["GET", "POST"])
def ask_to_move(request: HttpRequest, booking_id: int) -> HttpResponse:
    """GET says what is asked already; POST asks, and a newer wish takes the place of the older."""
    now = clock.now()
    booking = access_own_booking(person(request), booking_id, now=now)
    form = WishForm(request.POST or None)
    page = {
        **as_lesson(booking, now),
        "student": booking.student,
        "form": form,
        "asked": open_request(booking),
    }
    if request.method == "POST" and form.is_valid():
        wall = wall_time(form.cleaned_data["on"], form.cleaned_data["at"])
        try:
            starts_at = resolve_once(wall, booking.student.zone)
            write(
                lambda: request_move(
                    actor=person(request), booking=booking, starts_at=starts_at, now=now
                ),
                now=now,
            )
        except Refused as refusal:
            return render(
                request,
                "levare/ask_to_move.html",
                {**page, "refusal": refusal},
                status=refusal.status,
            )
        messages.success(
            request,
            f"Request sent. The lesson is not moved until {booking.meeting.instructor} agrees.",
        )
        return redirect("my-lessons")
    return render(request, "levare/ask_to_move.html", page, status=422 if form.errors else 200)
