"""The intake: what a student writes before a lesson. Two open tabs do not overwrite each other."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from bookings import clock
from bookings.access import access_own_booking
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import Booking
from bookings.operations.intakes import IntakeText, write_intake, written_intake
from bookings.pages.ended_bookings import ended_page
from bookings.pages.forms.intakes import IntakeForm
from bookings.pages.parameters import read_version
from bookings.pages.signed_in import user_of


@login_required
@require_http_methods(["GET", "POST"])
def intake(request: HttpRequest, booking_id: int) -> HttpResponse:
    """What the instructor should know before."""
    now = clock.now()
    booking = access_own_booking(user_of(request), booking_id, now=now)
    if request.method == "GET":
        form = IntakeForm(initial=_initial(written_intake(booking)))
        return ended_page(request, booking, now) or _page(request, booking, form)
    form = IntakeForm(request.POST)
    if not form.is_valid():
        return _page(request, booking, form, status=422)
    try:
        write(
            lambda: write_intake(
                actor=user_of(request),
                booking=booking,
                intake=form.text(),
                version=read_version(request),
                now=now,
            ),
            now=now,
        )
    except Refused as refusal:
        if refusal.code == "stale":
            return beside_saved(request, booking, form)
        gone = ended_page(request, booking, now, refusal=refusal)
        return gone or _page(request, booking, form, refusal=refusal, status=refusal.status)
    messages.success(request, "Saved. Your instructor reads it before the lesson.")
    return redirect("my-lessons")


def is_saved(booking: Booking, form: IntakeForm) -> bool:
    """Whether the form holds nothing that is not saved already."""
    return form.text().is_empty or form.text() == written_intake(booking)


def beside_saved(request: HttpRequest, booking: Booking, form: IntakeForm) -> HttpResponse:
    """The form as typed, beside what was saved in the meantime, so that the student decides."""
    booking.refresh_from_db()
    saved = [(form[name].label, text) for name, text in _initial(written_intake(booking)).items()]
    return _page(request, booking, form, saved=[row for row in saved if row[1]], status=409)


def _page(
    request: HttpRequest, booking: Booking, form: IntakeForm, *, status: int = 200, **more: Any
) -> HttpResponse:
    context = {
        "booking": booking,
        "meeting": booking.meeting,
        "student": booking.student,
        "form": form,
        "is_beside": "saved" in more,
        **more,
    }
    return render(request, "levare/intake.html", context, status=status)


def _initial(found: IntakeText) -> dict[str, str]:
    questions = {f"question_{rank}": text for rank, text in enumerate(found.questions, start=1)}
    return {
        **questions,
        "pieces": found.pieces,
        "recordings": "\n".join(found.recordings),
        "obstacle": found.obstacle,
    }
