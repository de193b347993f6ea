"""A group meeting is changed: filled in, looked at with who is told what, and saved."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from accounts.models import User
from bookings import clock
from bookings.access import access_taught_meeting, name_for, not_there
from bookings.domain.errors import Refused
from bookings.domain.instants import resolve_once
from bookings.door import write
from bookings.models import Meeting
from bookings.operations.change_preview import ChangePreview, preview_change
from bookings.operations.meetings import change_meeting
from bookings.pages.forms.meetings import ChangeForm, change_form, new_wall
from bookings.pages.parameters import read_version
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.queries.rosters import roster_of
from bookings.queries.teaching import zone_of_hours


@dataclass(frozen=True, slots=True)
class ToldEmail:
    """An email of the preview: who gets it, as the reader may name them, and its subject line."""

    who: str
    subject: str


@login_required
@require_http_methods(["GET", "POST"])
def change(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """GET shows the form; POST shows who is told what; POST with `sure` saves."""
    user, now = user_of(request), clock.now()
    found = access_taught_meeting(user, meeting_id, now=now)
    if found.offering.is_one_on_one:
        raise not_there()
    form = change_form(request.POST, found, zone_of_hours(found.instructor))
    if request.method == "GET" or not form.is_valid() or "back" in request.POST:
        return _form_page(request, found, form)
    is_sure = request.POST.get("sure") == "yes"
    try:
        wanted = _wanted(form, found)
        act: dict[str, Any] = {
            "actor": user,
            "meeting": found,
            "version": read_version(request),
            "now": now,
        }
        if not is_sure:
            seen = write(lambda: preview_change(**act, **wanted), now=now)
            return _preview_page(request, found, form, seen)
        write(lambda: change_meeting(**act, **wanted), now=now)
    except Refused as refusal:
        return _form_page(request, found, form, refusal)
    messages.success(request, "Saved.")
    return redirect("meeting", meeting_id=found.pk)


def _wanted(form: ChangeForm, found: Meeting) -> dict[str, Any]:
    """What the form asks for. Refused: "clock-gap", "clock-fold"."""
    values, time_zone = form.cleaned_data, zone_of_hours(found.instructor)
    wall = new_wall(form, found, time_zone)
    return {
        "starts_at": resolve_once(wall, time_zone) if wall is not None else None,
        "title": values["title"],
        "places": values["places"],
        "listener_places": values["listener_places"] or 0,
        "lowest_level": values["lowest_level"],
        "highest_level": values["highest_level"],
        "players_are_chosen": values["players_are_chosen"],
        "join_address": values["join_address"],
    }


def _preview_page(
    request: HttpRequest, found: Meeting, form: ChangeForm, seen: ChangePreview
) -> HttpResponse:
    user, now = user_of(request), clock.now()
    context = {
        "meeting": found,
        "seen": seen,
        "typed": {field.html_name: field.data for field in form},
        "version": request.POST.get("version") or found.version,
        "emails": _told(user, found, seen, now),
        "time_zone": zone_of_hours(found.instructor),
    }
    return render(request, "levare/change_meeting_preview.html", context)


def _told(user: User, found: Meeting, seen: ChangePreview, now: datetime) -> list[ToldEmail]:
    """The emails with their readers; an instructor reads "a guardian" for the adult of a child."""
    people = [row.student for row in found.bookings.all().select_related("student__user")]
    people += [row.student for row in found.waiting.all().select_related("student__user")]
    students = {one.user_id: name_for(user, one, now) for one in people}
    told = []
    for email in seen.emails:
        reader = email.reader
        name = reader.name if user.is_staff else students.get(reader.pk, "a guardian")
        if reader.pk == found.instructor.user_id:
            name = reader.name
        told.append(ToldEmail("You" if reader == user else name, email.title))
    return told


def _form_page(
    request: HttpRequest, found: Meeting, form: ChangeForm, refusal: Refused | None = None
) -> HttpResponse:
    meeting, now = roster_of(found), clock.now()
    context: dict[str, Any] = {
        "meeting": meeting,
        "form": form,
        "refusal": refusal,
        "is_over": meeting.is_cancelled or meeting.starts_at <= now,
        "time_zone": zone_of_hours(found.instructor),
    }
    return show(request, "levare/change_meeting.html", context)
