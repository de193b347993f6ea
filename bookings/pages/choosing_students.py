"""The students that an admin chooses from for a plan: a search, and boxes to tick."""

from typing import Any

from django.http import HttpRequest

from bookings import clock
from bookings.pages.forms.my_students import StudentsForm
from bookings.pages.signed_in import user_of
from bookings.queries.my_students import students_wanted
from bookings.queries.regular_instructors import instructors_teaching

MOST_SHOWN = 200


def students_to_choose(request: HttpRequest) -> dict[str, Any]:
    """The context of `_choose_students.html`. Those who were ticked stay ticked."""
    user, now = user_of(request), clock.now()
    search = StudentsForm(request.GET, is_due=True, teachers=instructors_teaching())
    found = []
    if search.is_valid():
        found = list(students_wanted(user, search.wanted(None), now=now)[: MOST_SHOWN + 1])
    return {
        "search": search,
        "students": found[:MOST_SHOWN],
        "has_more": len(found) > MOST_SHOWN,
        "chosen": request.POST.getlist("student"),
        "consenting": request.POST.getlist("consent"),
    }
