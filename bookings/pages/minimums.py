"""The minimum to run of a group meeting: set and changed, or decided by an admin."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods, require_POST

from bookings import clock
from bookings.access import access_taught_meeting, not_there, require_admin
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import Meeting
from bookings.operations.minimums import say_it_runs, set_minimum
from bookings.pages.forms.minimums import MinimumForm, minimum_form
from bookings.pages.parameters import read_version
from bookings.pages.rosters import act_on_roster
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.queries.teaching import zone_of_hours


@login_required
@require_http_methods(["GET", "POST"])
def minimum(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """GET shows the minimum to run and what it means; POST sets or changes it."""
    user, now = user_of(request), clock.now()
    found = access_taught_meeting(user, meeting_id, now=now)
    if found.offering.is_one_on_one:
        raise not_there()
    time_zone = zone_of_hours(found.instructor)
    form, version = minimum_form(request.POST, found, time_zone), read_version(request)
    if request.method == "GET" or not form.is_valid():
        return _page(request, found, form, time_zone)
    try:
        wanted = form.asked(time_zone)
        write(
            lambda: set_minimum(
                actor=user, meeting=found, minimum=wanted, version=version, now=now
            ),
            now=now,
        )
    except Refused as refusal:
        found = access_taught_meeting(user, meeting_id, now=now)
        return _page(request, found, form, time_zone, refusal)
    messages.success(request, "Saved. Everybody with a place gets one email.")
    return redirect("meeting", meeting_id=found.pk)


def _page(
    request: HttpRequest,
    found: Meeting,
    form: MinimumForm,
    time_zone: str,
    refusal: Refused | None = None,
) -> HttpResponse:
    context = {"meeting": found, "form": form, "time_zone": time_zone, "refusal": refusal}
    return show(request, "levare/minimum.html", context)


@login_required
@require_POST
def it_runs(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """An admin says that the meeting runs; a refusal is said on the roster."""
    user, now = user_of(request), clock.now()
    require_admin(user)
    found, version = access_taught_meeting(user, meeting_id, now=now), read_version(request)
    return act_on_roster(
        request,
        found,
        lambda: say_it_runs(actor=user, meeting=found, version=version, now=now),
        "It runs. Everybody with a place gets one email.",
    )
