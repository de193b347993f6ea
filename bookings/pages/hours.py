"""Hours I teach: the week, extra hours, days away."""

from collections import defaultdict
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from accounts.models import Instructor
from bookings import clock
from bookings.access import access_extra_hours, access_instructor
from bookings.domain.errors import Refused
from bookings.domain.hours import WEEKDAYS
from bookings.domain.typed_hours import say_hours
from bookings.domain.zones import place
from bookings.door import write
from bookings.models import ExtraHours
from bookings.operations.hours import (
    add_extra_hours,
    left_outside,
    publish_week,
    remove_extra_hours,
)
from bookings.pages.busy import section
from bookings.pages.confirmation import Question, confirmation_page
from bookings.pages.forms.hours import (
    AwayForm,
    ExtraHoursForm,
    HoursFileForm,
    WeekForm,
)
from bookings.pages.forms.rooms import RoomForm
from bookings.pages.parameters import read_id
from bookings.pages.ribbon import draw_wall
from bookings.pages.signed_in import user_of
from bookings.pages.templatetags.formatting import long_date
from bookings.queries.days_away import days_away_ahead
from bookings.queries.hours import extra_hours_ahead
from bookings.queries.teaching import week_of, zone_of_hours


def whose(request: HttpRequest) -> Instructor:
    """The instructor whose hours these are: the user, or the one whom an admin names."""
    named = request.POST.get("instructor") or request.GET.get("instructor")
    return access_instructor(user_of(request), read_id(named) if named else None)


def address_of(instructor: Instructor, request: HttpRequest) -> str:
    """Where this reader finds these hours."""
    asked = "" if instructor.user_id == user_of(request).pk else f"?instructor={instructor.pk}"
    return reverse("hours") + asked


def back(instructor: Instructor, request: HttpRequest) -> HttpResponse:
    """Redirects to these hours."""
    return redirect(address_of(instructor, request))


@login_required
@require_http_methods(["GET", "POST"])
def hours(request: HttpRequest) -> HttpResponse:
    """The week as typed lines under their strips; POST publishes it."""
    instructor = whose(request)
    if request.method == "GET":
        return hours_page(request, instructor)
    week = week_of(instructor)
    form = WeekForm(request.POST, time_zone=str(week.time_zone), windows={}, version=week.version)
    if not form.is_valid():
        return hours_page(request, instructor, week_form=form)
    values, now = form.cleaned_data, clock.now()
    try:
        published = write(
            lambda: publish_week(
                actor=user_of(request),
                instructor=instructor,
                time_zone=values["time_zone"],
                windows=values["windows"],
                keeps_hours_whole=values["keeps_hours_whole"],
                version=values["version"],
                now=now,
            ),
            now=now,
        )
    except Refused as refusal:
        return hours_page(request, instructor, week_form=form, refusal=refusal)
    messages.success(request, "Published. These are the hours offered from now on.")
    if published.left_outside:
        messages.warning(
            request,
            "Some lessons now lie outside these hours. They are still booked and are listed below.",
        )
    return back(instructor, request)


def hours_page(
    request: HttpRequest, instructor: Instructor, *, refusal: Refused | None = None, **forms: Any
) -> HttpResponse:
    """The page of these hours, with a refusal or with forms that are not valid."""
    now, week = clock.now(), week_of(instructor)
    windows: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for window in week.windows.all() if week.pk else ():
        windows[window.weekday].append((window.opens, window.closes))
    form = forms.get("week_form") or WeekForm(
        time_zone=str(week.time_zone),
        windows=windows,
        version=week.version,
        keeps_hours_whole=week.keeps_hours_whole,
    )
    shown = {
        "instructor": instructor,
        "week": week,
        "has_windows": any(windows.values()),
        "week_form": form,
        "days": [
            (name, draw_wall(windows[weekday]), form[f"day_{weekday}"])
            for weekday, name in enumerate(WEEKDAYS)
        ],
        "extra_form": forms.get("extra_form") or ExtraHoursForm(prefix="extra"),
        "away_form": forms.get("away_form") or AwayForm(prefix="away"),
        "extra": extra_hours_ahead(instructor, now=now),
        "away": days_away_ahead(instructor, now=now),
        "room_form": forms.get("room_form")
        or RoomForm(initial={"room": instructor.room, "seen": instructor.room}),
        "file_form": forms.get("file_form") or HoursFileForm(),
        "busy": section(instructor, is_own=instructor.user_id == user_of(request).pk),
        "left_outside": left_outside(instructor, now=now),
        "refusal": refusal,
    }
    broken = any(form.errors for form in forms.values())
    status = refusal.status if refusal else 422 if broken else 200
    return render(request, "levare/hours.html", shown, status=status)


@login_required
@require_POST
def add_extra(request: HttpRequest) -> HttpResponse:
    """Hours on one date beside the weekly ones."""
    instructor, now = whose(request), clock.now()
    form = ExtraHoursForm(request.POST, prefix="extra")
    if not form.is_valid():
        return hours_page(request, instructor, extra_form=form)
    try:
        write(
            lambda: add_extra_hours(
                actor=user_of(request),
                instructor=instructor,
                time_zone=zone_of_hours(instructor),
                now=now,
                **form.cleaned_data,
            ),
            now=now,
        )
    except Refused as refusal:
        return hours_page(request, instructor, extra_form=form, refusal=refusal)
    messages.success(request, "Extra hours added.")
    return back(instructor, request)


@login_required
@require_http_methods(["GET", "POST"])
def remove_extra(request: HttpRequest, extra_id: int) -> HttpResponse:
    """GET asks for confirmation; POST removes the extra hours."""
    extra, now = access_extra_hours(user_of(request), extra_id), clock.now()
    if request.method == "GET":
        return confirmation_page(request, _question(request, extra))
    write(lambda: remove_extra_hours(actor=user_of(request), extra=extra, now=now), now=now)
    messages.success(request, "Extra hours removed. Lessons booked in them are still booked.")
    return back(extra.instructor, request)


def _question(request: HttpRequest, extra: ExtraHours) -> Question:
    hours = f"{say_hours([(extra.opens, extra.closes)])} ({place(str(extra.time_zone))})"
    return Question(
        f"Remove the extra hours of {long_date(extra.on)}, {hours}?",
        ["They are not offered any more. Lessons that are booked in them stay booked."],
        "Remove the extra hours",
        address_of(extra.instructor, request),
    )
