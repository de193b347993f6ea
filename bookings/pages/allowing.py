"""Starts that an instructor allows beyond their own hours, days away and load."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from accounts.models import Instructor
from bookings import clock
from bookings.domain.errors import Refused
from bookings.domain.instants import resolve_once
from bookings.domain.zones import place
from bookings.door import write
from bookings.operations.load_allowances import allow_over_load
from bookings.pages.forms.hours import AllowedForm
from bookings.pages.hours import address_of, whose
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.queries.hours import allowed_ahead
from bookings.queries.teaching import zone_of_hours


@login_required
@require_http_methods(["GET", "POST"])
def allow(request: HttpRequest) -> HttpResponse:
    """GET lists the starts ahead that are allowed; POST allows one more, by the instructor."""
    instructor, now = whose(request), clock.now()
    form = AllowedForm(request.POST or None)
    if request.method == "GET" or not form.is_valid():
        return _page(request, instructor, form)
    try:
        starts_at = resolve_once(form.wall(), zone_of_hours(instructor))
        write(
            lambda: allow_over_load(
                actor=user_of(request), instructor=instructor, starts_at=starts_at, now=now
            ),
            now=now,
        )
    except Refused as refusal:
        return _page(request, instructor, form, refusal)
    messages.success(request, "Allowed. The school can plan a group meeting at that time.")
    return redirect(reverse("allow-start"))


def _page(
    request: HttpRequest, instructor: Instructor, form: AllowedForm, refusal: Refused | None = None
) -> HttpResponse:
    time_zone = zone_of_hours(instructor)
    form.fields["at"].help_text = f"On the clock of {place(time_zone)}."
    context = {
        "instructor": instructor,
        "is_own": instructor.user_id == user_of(request).pk,
        "form": form,
        "refusal": refusal,
        "allowed": allowed_ahead(instructor, now=clock.now()),
        "time_zone": time_zone,
        "hours_address": address_of(instructor, request),
    }
    return show(request, "levare/allowed.html", context)
