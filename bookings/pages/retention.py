"""How long each kind of data is kept, and what is due to go: for admins."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from bookings import clock
from bookings.access import require_admin
from bookings.pages.signed_in import user_of
from bookings.queries.retention import retention as read_retention


@login_required
@require_safe
def retention(request: HttpRequest) -> HttpResponse:
    """Every kind with its time, and the figures of `manage.py retention`."""
    require_admin(user_of(request))
    found = read_retention(now=clock.now(), machine=clock.machine())
    return render(request, "levare/retention.html", {"found": found})
