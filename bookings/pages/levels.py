"""Changing a student's record to the level of an assessment, if the instructor says so."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from bookings import clock
from bookings.access import access_assessment
from bookings.door import write
from bookings.operations.levels import adopt_level
from bookings.pages.parameters import read_id
from bookings.pages.signed_in import user_of


@login_required
@require_POST
def adopt(request: HttpRequest, note_id: int) -> HttpResponse:
    """Changes the record. The form holds the level and unit that the page showed."""
    user, now = user_of(request), clock.now()
    note = access_assessment(user, note_id)
    seen = read_id(request.POST.get("level")), read_id(request.POST.get("unit"))
    student = write(lambda: adopt_level(actor=user, note=note, seen=seen, now=now), now=now)
    messages.success(request, f"The record now says level {student.level}, unit {student.unit}.")
    return redirect("assessment", note_id=note_id)
