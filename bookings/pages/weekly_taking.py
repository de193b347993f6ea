"""Taking a weekly place, and giving it up."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from bookings import clock
from bookings.access import access_own_weekly_place
from bookings.domain.errors import Refused
from bookings.domain.weekly import WeeklyTime
from bookings.door import write
from bookings.operations.weekly import leave_weekly_place, take_weekly_place
from bookings.pages.acting import acting_student, family, number, person
from bookings.pages.weekly_rows import in_words
from bookings.queries.policies import policy_in_force
from bookings.queries.teaching import zone_of_hours
from bookings.queries.times import taught_to
from bookings.queries.weekly import judge
from bookings.queries.weekly_places import lessons_left
from bookings.queries.weekly_places import term as term_of


@login_required
@require_http_methods(["GET", "POST"])
def take(request: HttpRequest) -> HttpResponse:
    """GET shows every date of one weekly time, and those that would have to be given up; POST takes it."""
    student, now = acting_student(request), clock.now()
    asked = request.POST if request.method == "POST" else request.GET
    term = term_of(number(asked.get("term")))
    taught = taught_to(student)
    offering = taught.offering(number(asked.get("offering")))
    instructor = taught.instructor(offering, number(asked.get("instructor")))
    if term is None or offering is None or instructor is None:
        raise Refused(
            "not-found", "This weekly time is not offered. Choose one under Weekly places."
        )
    at = WeeklyTime(number(asked.get("weekday")), number(asked.get("wall_at")))
    wanted: dict[str, Any] = {
        "term": term,
        "offering": offering,
        "student": student,
        "instructor": instructor,
    }
    refusal = None
    if request.method == "POST":
        without = _dates(request.POST.getlist("without"))
        try:
            write(
                lambda: take_weekly_place(
                    actor=person(request),
                    weekday=at.weekday,
                    wall_at=at.minute,
                    without=without,
                    now=now,
                    **wanted,
                ),
                now=now,
            )
        except Refused as error:
            refusal = error
        else:
            messages.success(
                request,
                f"The place is yours for {term}. The dates are under My lessons and on their way by email.",
            )
            return redirect("weekly")
    people = taught.instructors[offering.pk]
    option = judge(at=at, people=people, policy=policy_in_force(now), now=now, **wanted)
    page = {
        **wanted,
        "at": at,
        "refusal": refusal,
        **in_words(option, student.zone, zone_of_hours(instructor)),
    }
    return render(
        request, "levare/take_weekly.html", page, status=refusal.status if refusal else 200
    )


def _dates(texts: Sequence[str]) -> list[date]:
    try:
        return [date.fromisoformat(text) for text in texts]
    except ValueError:
        raise Refused(
            "malformed", "These are not dates. Choose again under Weekly places."
        ) from None


@login_required
@require_http_methods(["GET", "POST"])
def leave(request: HttpRequest, place_id: int) -> HttpResponse:
    """GET says which lessons would end and which stay; POST leaves the place."""
    now = clock.now()
    user = person(request)
    place = access_own_weekly_place(user, place_id, now=now, own=family(user))
    ends, stays = lessons_left(place, now=now)
    page = {
        "place": place,
        "student": place.student,
        "stays": stays,
        "ends": ends,
    }
    if request.method == "GET":
        return render(request, "levare/leave_weekly.html", page)
    try:
        write(lambda: leave_weekly_place(actor=user, place=place, now=now), now=now)
    except Refused as refusal:
        return render(
            request, "levare/leave_weekly.html", {**page, "refusal": refusal}, status=refusal.status
        )
    messages.success(request, "Weekly place given up. The email lists the cancelled lessons.")
    return redirect("weekly")
