"""Days away of an instructor: adding and removing them, and what is called off for them."""

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts.models import Instructor
from bookings import clock
from bookings.access import access_days_away
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import DaysAway
from bookings.operations.days_away import come_back, go_away, to_reinstate
from bookings.pages.confirmation import Question, confirmation_page
from bookings.pages.forms.hours import AwayForm
from bookings.pages.hours import address_of, back, hours_page, whose
from bookings.pages.parameters import read_id
from bookings.pages.signed_in import user_of
from bookings.pages.templatetags.formatting import long_date
from bookings.queries.days_away import called_off_for, preview_of
from bookings.queries.teaching import zone_of_hours

MOST_LISTED = 100


@login_required
@require_POST
def add_away(request: HttpRequest) -> HttpResponse:
    """Adds days on which nothing is offered. If meetings are on them, the first POST lists them."""
    instructor, now, seen = whose(request), clock.now(), request.POST.get("seen")
    form = AwayForm(request.POST, prefix="away", asks_why=seen is not None)
    if not form.is_valid():
        return _invalid(request, instructor, form)
    days = form.cleaned_data
    try:
        went = write(
            lambda: go_away(
                actor=user_of(request),
                instructor=instructor,
                first_on=days["first_on"],
                last_on=days["last_on"],
                time_zone=zone_of_hours(instructor),
                call_off_why=days["call_off_why"] if seen is not None else None,
                seen=seen,
                now=now,
            ),
            now=now,
        )
    except Refused as refusal:
        if refusal.code == "has-bookings":
            return _preview(request, instructor, AwayForm(initial=days, prefix="away"))
        if refusal.code == "stale":
            return _preview(request, instructor, form, refusal)
        return hours_page(request, instructor, away_form=form, refusal=refusal)
    messages.success(request, _said(len(went.called_off)))
    return back(instructor, request)


@login_required
@require_http_methods(["GET", "POST"])
def remove_away(request: HttpRequest, away_id: int) -> HttpResponse:
    """GET asks for confirmation; POST removes the days away and lists what was called off."""
    away, now = access_days_away(user_of(request), away_id), clock.now()
    if request.method == "GET":
        return confirmation_page(
            request, _question(request, away, len(called_off_for(away, now=now)))
        )
    came = write(lambda: come_back(actor=user_of(request), away=away, now=now), now=now)
    messages.success(
        request, "Days away removed. Your weekly hours are offered again on those days."
    )
    if not came.called_off:
        return back(away.instructor, request)
    ids = ",".join(str(meeting.pk) for meeting in came.called_off[:MOST_LISTED])
    return redirect(f"{reverse('reinstate-days')}?instructor={away.instructor_id}&meetings={ids}")


@login_required
@require_safe
def reinstate_days(request: HttpRequest) -> HttpResponse:
    """The meetings that were called off for days away, once these are removed, to be reinstated."""
    instructor, now = whose(request), clock.now()
    named = request.GET.get("meetings", "").split(",")[:MOST_LISTED]
    ids = [read_id(text) for text in named if text]
    rows = to_reinstate(instructor, ids, reader=user_of(request), now=now)
    shown = {
        "rows": rows,
        "back": address_of(instructor, request),
        "zone": zone_of_hours(instructor),
    }
    return render(request, "levare/reinstate_days.html", shown)


def _preview(
    request: HttpRequest, instructor: Instructor, form: AwayForm, refusal: Refused | None = None
) -> HttpResponse:
    """What would be called off, with names and times; nothing is written yet."""
    days: Mapping[str, Any] = form.cleaned_data if form.is_bound else form.initial
    first_on, last_on, time_zone = days["first_on"], days["last_on"], zone_of_hours(instructor)
    preview = preview_of(
        instructor,
        first_on,
        last_on,
        time_zone=time_zone,
        reader=user_of(request),
        now=clock.now(),
    )
    shown = {
        "form": form,
        "days": _named(first_on, last_on),
        "preview": preview,
        "instructor": instructor,
        "zone": time_zone,
        "back": address_of(instructor, request),
        "refusal": refusal,
    }
    status = refusal.status if refusal else 422 if form.errors else 200
    return render(request, "levare/days_away.html", shown, status=status)


def _invalid(request: HttpRequest, instructor: Instructor, form: AwayForm) -> HttpResponse:
    """The form as typed: on the preview if only the reason is missing, else on the hours page."""
    if set(form.errors) == {"call_off_why"}:
        return _preview(request, instructor, form)
    return hours_page(request, instructor, away_form=form)


def _question(request: HttpRequest, away: DaysAway, count: int) -> Question:
    follows = ["The weekly hours are offered again on those days."]
    if count:
        lessons = "meeting was" if count == 1 else "meetings were"
        follows += [
            f"{count} {lessons} called off for these days and stay called off.",
            "The next page lists what was called off, so that you can reinstate it.",
        ]
    return Question(
        f"Remove the days away of {_named(away.first_on, away.last_on)}?",
        follows,
        "Remove the days away",
        address_of(away.instructor, request),
    )


def _named(first_on: Any, last_on: Any) -> str:
    first, last = long_date(first_on), long_date(last_on)
    return first if first_on == last_on else f"{first} to {last}"


def _said(count: int) -> str:
    if not count:
        return "Days away saved. Nothing is offered on them."
    have = "meeting is" if count == 1 else "meetings are"
    return f"Days away saved. {count} {have} called off, and everybody in them gets an email."
