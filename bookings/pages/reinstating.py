"""Reinstating a meeting that was called off: who comes back, and who cannot."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from bookings import clock
from bookings.access import access_taught_meeting, name_for
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.operations.reinstating import reinstate_meeting, who_returns
from bookings.pages.parameters import read_version
from bookings.pages.signed_in import user_of


@login_required
@require_http_methods(["GET", "POST"])
def reinstate(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """GET says who gets a place back, or why nobody can; POST reinstates the meeting."""
    user, now = user_of(request), clock.now()
    found, version = access_taught_meeting(user, meeting_id, now=now), read_version(request)
    try:
        if request.method == "GET":
            coming = who_returns(found, now=now)
            left_out = [
                {"name": name_for(user, one.booking.student, now), "why": one.why}
                for one in coming.left_out
            ]
            return render(
                request,
                "levare/reinstate.html",
                {"meeting": found, "count": len(coming.back), "left_out": left_out},
            )
        done = write(
            lambda: reinstate_meeting(actor=user, meeting=found, version=version, now=now), now=now
        )
    except Refused as refusal:
        status = 200 if request.method == "GET" else refusal.status
        return render(
            request, "levare/reinstate.html", {"meeting": found, "refusal": refusal}, status=status
        )
    said = [
        f"{name_for(user, one.booking.student, now)} is no longer in it: {one.why}."
        for one in done.left_out
    ]
    messages.success(request, " ".join(["Reinstated. Everybody gets one email.", *said]))
    return redirect("meeting", meeting_id=found.pk)
