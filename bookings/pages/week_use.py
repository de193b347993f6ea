"""Hours week by week: what was published, booked and lost, beside who waits or is due a review."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from bookings import clock
from bookings.pages.hours import address_of, whose
from bookings.pages.signed_in import user_of
from bookings.pages.week_bars import week_bars
from bookings.queries.week_use import used_hours


@login_required
@require_safe
def hours_by_week(request: HttpRequest) -> HttpResponse:
    """The last eight weeks and the next four as bars and as a table."""
    instructor = whose(request)
    used = used_hours(user_of(request), instructor, now=clock.now())
    least = used.fullest
    context = {
        "instructor": instructor,
        "used": used,
        "bars": week_bars(used.weeks),
        "first_ahead": used.ahead[0].monday,
        "fullest": least,
        "is_short": least is not None and least.free < used.wanted_minutes,
        "back": address_of(instructor, request),
    }
    return render(request, "levare/hours_by_week.html", context)
