"""The briefs of one day, one after the other, for the printer."""

from datetime import datetime
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from accounts.models import User
from bookings import clock
from bookings.access import name_for, require_instructor
from bookings.door import write
from bookings.operations.reading_notes import Brief, read_briefs
from bookings.pages.notes import mentions_pain, shown_note
from bookings.pages.signed_in import user_of
from bookings.pages.today import day_asked


@login_required
@require_GET
def day_briefs(request: HttpRequest) -> HttpResponse:
    """Every brief of the day. Each reading of a note is logged before it is shown.

    Private remarks, and what hurts, stay on the screen of the single brief: paper lies about.
    """
    user, now = user_of(request), clock.now()
    instructor, on = require_instructor(user), day_asked(request, now)
    briefs = write(lambda: read_briefs(reader=user, instructor=instructor, on=on, now=now), now=now)
    context = {"on": on, "briefs": [_shown(brief, user, now) for brief in briefs]}
    return render(request, "levare/day_briefs.html", context)


def _shown(brief: Brief, user: User, now: datetime) -> dict[str, Any]:
    booking, note = brief.booking, brief.note
    intake = getattr(booking, "intake", None)
    return {
        "booking": booking,
        "meeting": booking.meeting,
        "student": booking.student,
        "called": name_for(user, booking.student, now),
        "intake": intake,
        "note": shown_note(note) if note else None,
        "cautions": mentions_pain(note, intake),
        "hurts_unsaid": bool(intake and intake.sealed_hurts),
    }
