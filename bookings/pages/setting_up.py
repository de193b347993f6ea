"""What the school still lacks, in order, with the page that each part is made on: for admins."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET

from bookings import clock
from bookings.access import require_admin
from bookings.pages.signed_in import user_of
from bookings.queries.setting_up import Part, steps

_PAGES = {
    Part.POLICY: ("policy", "", "Studio policy"),
    Part.OFFERINGS: ("offerings", "", "Offerings"),
    Part.TECHNIQUES: ("techniques", "", "Techniques"),
    Part.INSTRUCTORS: ("people", "?as=instructor#invite", "Invite an instructor"),
    Part.TEACHES: ("offerings", "", "Who teaches what"),
    Part.ROOMS: ("people", "?show=instructors", "Instructors and their hours"),
    Part.TERM: ("terms", "", "Terms"),
    Part.HOURS: ("people", "?show=instructors", "Instructors and their hours"),
    Part.STUDENTS: ("new-student", "", "Add a student"),
}
"""The page of each part: its name, what follows its address, and the words of the link. The
school’s name has none: it is a setting."""


@login_required
@require_GET
def setting_up(request: HttpRequest) -> HttpResponse:
    """Each part of a school, done or missing."""
    require_admin(user_of(request))
    found = steps(now=clock.now())
    rows = []
    for step in found:
        page, query, words = _PAGES.get(step.part, ("", "", ""))
        rows.append((step, reverse(page) + query if page else "", words))
    missing = sum(not step.is_done for step in found)
    return render(request, "levare/setting_up.html", {"rows": rows, "missing": missing})
