"""Weekly places: the weekly times that a whole term could hold, in words."""

from datetime import datetime
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from accounts.models import Student
from bookings import clock
from bookings.access import access_own_weekly_place
from bookings.domain.weekly import WeeklyOption
from bookings.domain.weekly_search import CountedTime
from bookings.domain.zones import zone
from bookings.models import Offering, WeeklyPlace
from bookings.pages.forms.weekly import WeeklyForm
from bookings.pages.parameters import read_id
from bookings.pages.signed_in import acting_student, family, user_of
from bookings.pages.weekly_rows import Row, on_weekday, rows_of, weekly_row
from bookings.queries.times import Taught, taught_to
from bookings.queries.weekly import SearchedWeekly, search_for
from bookings.queries.weekly_places import TermAhead, places_ahead, terms_ahead


@login_required
@require_GET
def weekly(request: HttpRequest) -> HttpResponse:
    """The student's weekly places, and the weekly times of a term, the best first."""
    student, now = acting_student(request), clock.now()
    terms = terms_ahead(now.astimezone(zone(student.zone)).date())
    taught = taught_to(student)
    form = WeeklyForm(request.GET, taught=taught, terms=[one.term for one in terms.values()])
    asked = form.cleaned_data if form.is_valid() else {}
    term, offering = (asked.get(name) or form.first(name) for name in ("term", "offering"))
    after = request.GET.get("after")
    context: dict[str, Any] = {
        "student": student,
        "form": form,
        "term": term,
        "breaks": terms[term.pk].breaks if term is not None else [],
        "offering": offering,
        "places": places_ahead(student, now=now),
        "after": access_own_weekly_place(
            user_of(request), read_id(after), now=now, own=family(user_of(request))
        )
        if after
        else None,
    }
    if term is not None and offering is not None:
        context |= _times(student, terms[term.pk], offering, taught, asked, context["after"], now)
    return render(request, "levare/weekly.html", context, status=422 if form.errors else 200)


def _times(
    student: Student,
    ahead: TermAhead,
    offering: Offering,
    taught: Taught,
    asked: dict[str, Any],
    after: WeeklyPlace | None,
    now: datetime,
) -> dict[str, Any]:
    instructor = asked.get("instructor")
    found = search_for(
        term=ahead.term,
        offering=offering,
        student=student,
        instructor_id=instructor.pk if instructor else None,
        after=after,
        earliest=asked.get("earliest"),
        latest=asked.get("latest"),
        people=taught.instructors[offering.pk],
        dates=ahead.dates,
        now=now,
    )
    lead = f"student={student.pk}&term={ahead.term.pk}&offering={offering.pk}"

    def row(counted: CountedTime) -> Row:
        return _row(found.search.option(counted, with_reasons=False), found, student, lead)

    alone = [(counted, None) for counted in found.search.ranked]
    best, days = rows_of(on_weekday(alone, asked.get("weekday")), row, student.zone)
    return {"best": best, "days": days}


def _row(option: WeeklyOption, found: SearchedWeekly, student: Student, lead: str) -> Row:
    return {
        **weekly_row(option, student.zone, found.time_zones[option.instructor_id]),
        "instructor": found.instructors[option.instructor_id],
        "address": f"{lead}&instructor={option.instructor_id}"
        f"&weekday={option.at.weekday}&wall_at={option.at.minute}",
    }
