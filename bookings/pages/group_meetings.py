"""Group meetings as the school plans them: one more, one changed, one called off."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from bookings import clock
from bookings.access import access_taught_meeting, require_admin
from bookings.domain.errors import Refused
from bookings.domain.instants import resolve_once
from bookings.door import write
from bookings.operations import calling_off
from bookings.operations import meetings as acts
from bookings.pages.forms.fields import line_of
from bookings.pages.forms.meetings import MeetingForm
from bookings.pages.parameters import read_version
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.queries.teaching import zone_of_hours


@login_required
@require_http_methods(["GET", "POST"])
def call_off(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """GET says who is told; POST calls the meeting off."""
    now = clock.now()
    found = access_taught_meeting(user_of(request), meeting_id, now=now)
    context = {"meeting": found, "count": found.taken + found.listeners_taken}
    if request.method == "GET":
        return render(request, "levare/call_off.html", context)
    why, version = line_of(request.POST.get("why", "")), read_version(request)
    try:
        write(
            lambda: calling_off.call_off(
                actor=user_of(request), meeting=found, why=why, version=version, now=now
            ),
            now=now,
        )
    except Refused as refusal:
        return show(request, "levare/call_off.html", {**context, "refusal": refusal})
    messages.success(request, "Called off. Everybody booked gets one email.")
    return redirect("meeting", meeting_id=found.pk)


@login_required
@require_http_methods(["GET", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    """An admin makes a group meeting."""
    require_admin(user_of(request))
    form, now = MeetingForm(request.POST or None), clock.now()
    if request.method == "POST" and form.is_valid():
        values = form.cleaned_data
        try:
            made = write(
                lambda: acts.create_meeting(
                    actor=user_of(request),
                    offering=values["offering"],
                    instructor=values["instructor"],
                    starts_at=resolve_once(form.wall(), zone_of_hours(values["instructor"])),
                    title=values["title"],
                    places=values["places"],
                    listener_places=values["listener_places"] or 0,
                    join_address=values["join_address"],
                    minimum=form.wanted(zone_of_hours(values["instructor"])),
                    lowest_level=values["lowest_level"],
                    highest_level=values["highest_level"],
                    players_are_chosen=values["players_are_chosen"],
                    now=now,
                ),
                now=now,
            )
        except Refused as refusal:
            return show(request, "levare/new_meeting.html", {"form": form, "refusal": refusal})
        messages.success(request, "Added. It is open for booking.")
        return redirect("meeting", meeting_id=made.pk)
    return show(request, "levare/new_meeting.html", {"form": form})
