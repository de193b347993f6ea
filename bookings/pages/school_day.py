"""The day of all instructors: an admin's Today."""

from datetime import timedelta

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from bookings import clock
from bookings.domain.news import counted
from bookings.domain.timeline import FIRST_ON, LAST_ON
from bookings.pages.clock_changes import clock_changes
from bookings.pages.ribbon import local_day
from bookings.pages.signed_in import user_of
from bookings.pages.today import day_asked, local_date
from bookings.queries.school_day import school_day

_DAY = timedelta(days=1)


@login_required
@require_GET
def of_all(request: HttpRequest) -> HttpResponse:
    """The day on the admin's clock; any other day with `?on=`."""
    user, now = user_of(request), clock.now()
    on = day_asked(request, now)
    found = school_day(user, on, now=now)
    meetings = counted(sum(len(one.meetings) for one in found), "meeting").capitalize()
    context = {
        "on": on,
        "is_today": on == local_date(user, now),
        "rows": [{"day": one, "can_clear": one.has_ahead(now)} for one in found],
        "sum": f"{meetings} of {counted(len(found), 'instructor')}",
        "told": clock_changes(local_day(on, user.zone), None),
        "before": on - _DAY if on > FIRST_ON else None,
        "after": on + _DAY if on < LAST_ON else None,
    }
    return render(request, "levare/school_day.html", context)
