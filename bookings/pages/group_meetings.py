"""Group meetings as the school plans them: one more, one called off."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from bookings import clock
from bookings.access import access_taught_meeting, require_admin
from bookings.domain.errors import Refused
from bookings.domain.hours import resolve_once
from bookings.door import write
from bookings.operations import meetings as acts
from bookings.pages.acting import person
from bookings.pages.fields import line_of
from bookings.pages.meeting_forms import MeetingForm
from bookings.queries.teaching import zone_of_hours


@login_required
@require_http_methods(["GET", "POST"])
def call_off(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """GET says who is told; POST calls the meeting off."""
    now = clock.now()
    found = access_taught_meeting(person(request), meeting_id, now=now)
    page = {"meeting": found, "count": found.taken + found.listeners_taken}
    if request.method == "GET":
        return render(request, "call_off.html", page)
    why = line_of(request.POST.get("why", ""))
    try:
        write(
            lambda: acts.call_off(actor=person(request), meeting=found, why=why, now=now), now=now
        )
    except Refused as refusal:
        return render(request, "call_off.html", {**page, "refusal": refusal}, status=refusal.status)
    messages.success(request, "Called off. Everybody booked gets one email.")
    return redirect("meeting", meeting_id=found.pk)


@login_required
@require_http_methods(["GET", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    """An admin makes a group meeting."""
    require_admin(person(request))
    form, now = MeetingForm(request.POST or None), clock.now()
    if request.method == "POST" and form.is_valid():
        values = form.cleaned_data
        try:
            made = write(
                lambda: acts.create_meeting(
                    actor=person(request),
                    offering=values["offering"],
                    instructor=values["instructor"],
                    starts_at=resolve_once(form.wall(), zone_of_hours(values["instructor"])),
                    title=values["title"],
                    places=values["places"],
                    listener_places=values["listener_places"] or 0,
                    join_address=values["join_address"],
                    now=now,
                ),
                now=now,
            )
        except Refused as refusal:
            return render(
                request,
                "new_meeting.html",
                {"form": form, "refusal": refusal},
                status=refusal.status,
            )
        messages.success(request, "Made. It is open for booking.")
        return redirect("meeting", meeting_id=made.pk)
    return render(request, "new_meeting.html", {"form": form}, status=422 if form.errors else 200)
