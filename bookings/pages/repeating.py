"""A group meeting is duplicated, once or on a series of dates, after a look at every date."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods

from bookings import clock
from bookings.access import access_taught_meeting, not_there
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import Meeting
from bookings.operations.repeating import (
    Series,
    SeriesDate,
    at_another_utc_hour,
    preview_series,
    repeat_meeting,
)
from bookings.pages.forms.meetings import RepeatForm, repeat_form
from bookings.pages.parameters import read_version
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.queries.teaching import zone_of_hours


@login_required
@require_http_methods(["GET", "POST"])
def repeat(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """GET asks for the dates; POST shows each; POST with `sure` makes those not left out."""
    user, now = user_of(request), clock.now()
    found = access_taught_meeting(user, meeting_id, now=now)
    if found.offering.is_one_on_one:
        raise not_there()
    form = repeat_form(request.POST, found, zone_of_hours(found.instructor))
    if request.method == "GET" or not form.is_valid():
        return _page(request, found, form)
    act: dict[str, Any] = {"actor": user, "meeting": found, "series": _series(request, form)}
    act |= {"version": read_version(request), "now": now}
    try:
        if request.POST.get("sure") != "yes":
            days = write(lambda: preview_series(**act), now=now)
            return _page(request, found, form, days=days)
        made = write(lambda: repeat_meeting(**act), now=now)
    except Refused as refusal:
        days = []
        if refusal.code == "series-dates":
            days = write(lambda: preview_series(**act), now=now)
        return _page(request, found, form, refusal, days)
    count = len(made)
    messages.success(
        request, f"Added {count} meeting{'s' if count > 1 else ''}. Booking is open for each."
    )
    return redirect("meeting", meeting_id=made[0].pk)


def _series(request: HttpRequest, form: RepeatForm) -> Series:
    """The series asked for; a ticked date that is not one of it is not read."""
    values = form.cleaned_data
    series = Series(values["first_on"], values["at"], values["every_weeks"], values["count"])
    ticked = set(request.POST.getlist("without"))
    without = frozenset(on for on in _dates(series) if on.isoformat() in ticked)
    return Series(values["first_on"], values["at"], series.every_weeks, series.count, without)


def _dates(series: Series) -> list[date]:
    try:
        return series.dates()
    except Refused:
        return []


def _page(
    request: HttpRequest,
    found: Meeting,
    form: RepeatForm,
    refusal: Refused | None = None,
    days: list[SeriesDate] | None = None,
) -> HttpResponse:
    context = {
        "meeting": found,
        "form": form,
        "refusal": refusal,
        "days": days or [],
        "shifted": at_another_utc_hour(days or []),
        "failed": any(day.refusal for day in days or []),
        "time_zone": zone_of_hours(found.instructor),
    }
    return show(request, "levare/repeat_meeting.html", context)
