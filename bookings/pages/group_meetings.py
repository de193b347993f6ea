"""Group meetings as the school plans them: one more, one changed, one called off."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from bookings import clock
from bookings.access import access_taught_meeting, name_for, not_there, require_admin
from bookings.domain.errors import Refused
from bookings.domain.instants import resolve_once
from bookings.door import write
from bookings.models import Meeting
from bookings.operations import calling_off
from bookings.operations import meetings as acts
from bookings.pages.forms.fields import line_of
from bookings.pages.forms.meetings import ChangeForm, MeetingForm, change_form, new_wall
from bookings.pages.parameters import read_version
from bookings.pages.signed_in import user_of
from bookings.queries.rosters import roster_of
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
    why = line_of(request.POST.get("why", ""))
    try:
        write(
            lambda: calling_off.call_off(actor=user_of(request), meeting=found, why=why, now=now),
            now=now,
        )
    except Refused as refusal:
        return render(
            request, "levare/call_off.html", {**context, "refusal": refusal}, status=refusal.status
        )
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
                    now=now,
                ),
                now=now,
            )
        except Refused as refusal:
            return render(
                request,
                "levare/new_meeting.html",
                {"form": form, "refusal": refusal},
                status=refusal.status,
            )
        messages.success(request, "Added. It is open for booking.")
        return redirect("meeting", meeting_id=made.pk)
    return render(
        request, "levare/new_meeting.html", {"form": form}, status=422 if form.errors else 200
    )


@login_required
@require_http_methods(["GET", "POST"])
def change(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """GET shows the meeting as it stands and says who is told; POST changes it."""
    user, now = user_of(request), clock.now()
    found = access_taught_meeting(user, meeting_id, now=now)
    if found.offering.is_one_on_one:
        raise not_there()
    time_zone = zone_of_hours(found.instructor)
    form = change_form(request.POST, found, time_zone)
    if request.method == "GET" or not form.is_valid():
        return _change_page(request, found, form)
    values = form.cleaned_data
    try:
        wall = new_wall(form, found, time_zone)
        starts_at = resolve_once(wall, time_zone) if wall is not None else None
        write(
            lambda: acts.change_meeting(
                actor=user,
                meeting=found,
                version=read_version(request),
                starts_at=starts_at,
                title=values["title"],
                places=values["places"],
                listener_places=values["listener_places"] or 0,
                join_address=values["join_address"],
                now=now,
            ),
            now=now,
        )
    except Refused as refusal:
        return _change_page(request, found, form, refusal)
    messages.success(request, "Saved.")
    return redirect("meeting", meeting_id=found.pk)


def _change_page(
    request: HttpRequest, found: Meeting, form: ChangeForm, refusal: Refused | None = None
) -> HttpResponse:
    user, now = user_of(request), clock.now()
    meeting = roster_of(found)
    queue = meeting.queue  # type: ignore[attr-defined]
    people: dict[str, list[str]] = {"HELD": [], "OFFERED": []}
    for booking in meeting.live:  # type: ignore[attr-defined]
        people[booking.standing].append(name_for(user, booking.student, now))
    context: dict[str, Any] = {
        "meeting": meeting,
        "form": form,
        "refusal": refusal,
        "held": people["HELD"],
        "offered": people["OFFERED"],
        "waiting": [name_for(user, one.student, now) for one in queue],
        "is_over": meeting.is_cancelled or meeting.starts_at <= now,
        "time_zone": zone_of_hours(found.instructor),
    }
    status = refusal.status if refusal else 422 if form.errors else 200
    return render(request, "levare/change_meeting.html", context, status=status)
