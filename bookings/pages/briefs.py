"""The brief: the one page an instructor reads before a meeting."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from bookings import clock
from bookings.access import access_brief, knows_student, may_assess_in, name_for
from bookings.pages.notes import mentions_pain, read_note
from bookings.pages.signed_in import user_of
from bookings.queries.notes import drafts_about, latest_released
from bookings.queries.practice import practised
from bookings.reading import read_hurts


@login_required
@require_GET
def brief(request: HttpRequest, booking_id: int) -> HttpResponse:
    """The one page an instructor reads before a meeting."""
    user, now = user_of(request), clock.now()
    booking = access_brief(user, booking_id, now=now)
    note = booking.assessment or latest_released(booking.student)
    told = getattr(booking, "intake", None)
    shown = read_note(user, note, now) if note else None
    context = {
        "booking": booking,
        "begun": booking.starts_at <= now,
        "meeting": booking.meeting,
        "student": booking.student,
        "called": name_for(user, booking.student, now),
        "intake": told,
        "hurts": read_hurts(user, booking, now=now),
        "note": shown,
        "practised": practised(booking.student, now=now) if shown else None,
        "cautions": mentions_pain(note if shown else None, told),
        "may_read_all": knows_student(booking.meeting.instructor, booking.student),
        "drafts": drafts_about(booking.student, user),
        "may_write": may_assess_in(user, booking, now=now),
    }
    return render(request, "levare/brief.html", context)
