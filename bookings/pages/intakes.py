"""The intake: what a student writes before a lesson. Two open tabs do not overwrite each other."""

from dataclasses import replace
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from bookings import clock
from bookings.access import access_own_booking
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Kind
from bookings.door import write
from bookings.models import Booking
from bookings.operations.intakes import write_intake, written_intake
from bookings.pages.ended_bookings import ended_page
from bookings.pages.forms.intakes import IntakeForm
from bookings.pages.parameters import read_version
from bookings.pages.signed_in import family, user_of
from bookings.reading import read_hurts


@login_required
@require_http_methods(["GET", "POST"])
def intake(request: HttpRequest, booking_id: int) -> HttpResponse:
    """What the instructor should know before."""
    now = clock.now()
    booking = access_own_booking(user_of(request), booking_id, now=now)
    if request.method == "GET":
        form = intake_form(request, booking)
        form.initial = _initial(request, booking)
        return ended_page(request, booking, now) or _page(request, booking, form)
    form = intake_form(request, booking, request.POST)
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


def intake_form(request: HttpRequest, booking: Booking, *values: Any) -> IntakeForm:
    """The form of this meeting for this reader, bound to the values if any are given."""
    return IntakeForm(
        *values,
        for_family=booking.student in family(user_of(request)),
        one_on_one=booking.meeting.offering.is_one_on_one,
        is_shown=booking.meeting.offering.kind == Kind.MASTERCLASS,
    )


def is_saved(request: HttpRequest, booking: Booking, form: IntakeForm) -> bool:
    """Whether the form holds nothing that is not saved already."""
    text = form.text()
    saved = replace(written_intake(booking), hurts=text.hurts)
    hurts = read_hurts(user_of(request), booking, now=clock.now())
    return text.is_empty or (text == saved and text.hurts in (None, hurts))


def beside_saved(request: HttpRequest, booking: Booking, form: IntakeForm) -> HttpResponse:
    """The form as typed, beside what was saved in the meantime, so that the student decides."""
    booking.refresh_from_db()
    initial = _initial(request, booking)
    saved = [(form[name].label, text) for name, text in initial.items() if name in form.fields]
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


def _initial(request: HttpRequest, booking: Booking) -> dict[str, Any]:
    found = written_intake(booking)
    questions = {f"question_{rank}": text for rank, text in enumerate(found.questions, start=1)}
    return {
        **questions,
        "pieces": found.pieces,
        "recordings": "\n".join(found.recordings),
        "obstacle": found.obstacle,
        "practised_minutes": found.practised_minutes,
        "hurts": read_hurts(user_of(request), booking, now=clock.now()),
    }
