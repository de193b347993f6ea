"""Weekly places: what a whole term could hold, in words; taking one, moving and leaving it."""

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from accounts.models import Student
from bookings import clock
from bookings.access import access_own_weekly_place
from bookings.domain.errors import Refused
from bookings.domain.policy import cancel_by
from bookings.domain.terms import shifts
from bookings.domain.vocabulary import Standing
from bookings.domain.weekly import WeeklyOption, WeeklyTime
from bookings.domain.zones import zone
from bookings.door import write
from bookings.models import Booking, Offering, Term, WeeklyPlace
from bookings.operations.weekly import leave_weekly_place, move_weekly_place, take_weekly_place
from bookings.pages.acting import acting_student, number, person
from bookings.pages.term_forms import WeeklyForm
from bookings.queries.policies import policy_in_force
from bookings.queries.teaching import instructors_for, zone_of_hours
from bookings.queries.weekly import (
    FoundWeekly,
    judge,
    next_place,
    open_places,
    options_for,
    options_instead,
)

A_DAY, ONE_DAY = 3, 24  # how many weekly times are shown of each weekday, and of the one asked for
A_DAY_TO_MOVE = 6
Beside = tuple[WeeklyOption, WeeklyOption | None]
_COSTS = {
    1: "A little early or late for some.",
    3: "Early or late.",
    8: "Very early or very late.",
    20: "In the night.",
}


@login_required
@require_GET
def weekly(request: HttpRequest) -> HttpResponse:
    """The student's weekly places, and the weekly times of a term that she could have, the best first."""
    student, now = acting_student(request), clock.now()
    today = now.astimezone(zone(student.zone)).date()
    form = WeeklyForm(request.GET, student=student, today=today)
    asked = form.cleaned_data if form.is_valid() else {}
    chosen = {name: asked.get(name) or _first(form, name) for name in ("term", "offering")}
    page: dict[str, Any] = {
        "student": student,
        "form": form,
        **chosen,
        "places": _places(student, now),
    }
    after = request.GET.get("after")
    user = person(request)
    page["after"] = access_own_weekly_place(user, number(after), now=now) if after else None
    if all(chosen.values()):
        data = QueryDict(mutable=True)
        data.update(
            {**request.GET.dict(), **{name: str(row.pk) for name, row in chosen.items() if row}}
        )
        page["form"] = form if form.errors else WeeklyForm(data, student=student, today=today)
        instructor = asked.get("instructor")
        found = options_for(
            term=chosen["term"],
            offering=chosen["offering"],
            student=student,
            instructor_id=instructor.pk if instructor else None,
            after=page["after"],
            earliest=asked.get("earliest"),
            latest=asked.get("latest"),
            now=now,
        )
        weekday = asked.get("weekday")
        shown = _spread(found.options, A_DAY if weekday is None else ONE_DAY, weekday)
        page["options"] = [_as_option(option, found, student, **chosen) for option, _ in shown]
    return render(request, "weekly.html", page, status=422 if form.errors else 200)


def _spread(options: Iterable[Beside], of_each: int, weekday: int | None = None) -> list[Beside]:
    """The best of each weekday, in the order of all; where one is asked for, of that one only. A week has more than one good day."""
    shown: Counter[int] = Counter()
    chosen = []
    for option, after in options:
        day = option.at.weekday
        if weekday in (None, day) and shown[day] < of_each:
            shown[day] += 1
            chosen.append((option, after))
    return chosen


def _first(form: WeeklyForm, name: str) -> Any:
    field: Any = form.fields[name]
    return field.queryset.first()


def _places(student: Student, now: datetime) -> list[dict[str, Any]]:
    """Her places that stand, each with the lessons ahead on her clock."""
    ahead = Count(
        "meetings__bookings",
        filter=Q(meetings__bookings__standing=Standing.HELD, meetings__starts_at__gt=now),
    )
    return [
        {"place": place, "ahead": place.ahead}
        for place in open_places(WeeklyPlace.objects.filter(student=student)).annotate(ahead=ahead)
        if place.ahead
    ]


def _as_option(
    option: WeeklyOption, found: FoundWeekly, student: Student, *, term: Term, offering: Offering
) -> dict[str, Any]:
    asked = {
        "student": student.pk,
        "term": term.pk,
        "offering": offering.pk,
        "instructor": option.instructor_id,
        "weekday": option.at.weekday,
        "wall_at": option.at.minute,
    }
    said = _in_words(option, student.zone, found.time_zones[option.instructor_id])
    return {
        **said,
        "instructor": found.instructors[option.instructor_id],
        "address": urlencode(asked),
    }


def _in_words(option: WeeklyOption, here: str, there: str) -> dict[str, Any]:
    """A weekly time as a page says it: on both clocks, with its shifts, and what it costs at worst."""
    first = option.held[0].starts_at if option.held else None
    return {
        "option": option,
        "first": first,
        "there": there,
        "of": len(option.held) + len(option.failed),
        "shifts": shifts([held.starts_at for held in option.held], here),
        "cost": _COSTS.get(option.greatest_burden, ""),
    }


@login_required
@require_http_methods(["GET", "POST"])
def take(request: HttpRequest) -> HttpResponse:
    """GET shows every date of one weekly time, and those that would have to be given up; POST takes it."""
    student, now = acting_student(request), clock.now()
    asked = request.POST if request.method == "POST" else request.GET
    term = Term.objects.filter(pk=number(asked.get("term"))).first()
    offering = Offering.objects.filter(pk=number(asked.get("offering")), is_open=True).first()
    people = (
        instructors_for(offering, student.level, number(asked.get("instructor")))
        if offering
        else []
    )
    if term is None or offering is None or not people:
        raise Refused(
            "not-found", "This weekly time is not offered. Choose one under Weekly places."
        )
    at = WeeklyTime(number(asked.get("weekday")), number(asked.get("wall_at")))
    wanted: dict[str, Any] = {
        "term": term,
        "offering": offering,
        "student": student,
        "instructor": people[0],
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
    option = judge(at=at, policy=policy_in_force(now), now=now, **wanted)
    page = {
        **wanted,
        "at": at,
        "refusal": refusal,
        **_in_words(option, student.zone, zone_of_hours(people[0])),
    }
    return render(request, "take_weekly.html", page, status=refusal.status if refusal else 200)


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
    place = access_own_weekly_place(person(request), place_id, now=now)
    ahead = Booking.objects.filter(
        meeting__weekly_place=place, standing=Standing.HELD, starts_at__gt=now
    ).select_related("policy")
    stays = [
        booking for booking in ahead if now > cancel_by(booking.policy.rules(), booking.starts_at)
    ]
    page = {
        "place": place,
        "student": place.student,
        "stays": stays,
        "ends": [row for row in ahead if row not in stays],
    }
    if request.method == "GET":
        return render(request, "leave_weekly.html", page)
    try:
        write(lambda: leave_weekly_place(actor=person(request), place=place, now=now), now=now)
    except Refused as refusal:
        return render(
            request, "leave_weekly.html", {**page, "refusal": refusal}, status=refusal.status
        )
    messages.success(request, "Weekly place given up. The email lists the cancelled lessons.")
    return redirect("weekly")


@login_required
@require_http_methods(["GET", "POST"])
def move(request: HttpRequest, place_id: int) -> HttpResponse:
    """GET shows the weekly times that hold every date, a sibling's next to it; POST moves there."""
    now = clock.now()
    place = access_own_weekly_place(person(request), place_id, now=now)
    refusal = None
    if request.method == "POST":
        weekday, wall_at, *after = _read_time(request.POST.get("to", ""))
        try:
            write(
                lambda: move_weekly_place(
                    actor=person(request),
                    place=place,
                    weekday=weekday,
                    wall_at=wall_at,
                    next_wall_at=after[0] if after else None,
                    now=now,
                ),
                now=now,
            )
        except Refused as error:
            refusal = error
        else:
            messages.success(request, "Moved. One email with all the new dates is on its way.")
            return redirect("weekly")
    found = options_instead(place=place, user=person(request), now=now)
    whole = [pair for pair in found.options if not any(one and one.failed for one in pair)]
    page = {
        "place": place,
        "student": place.student,
        "following": next_place(place, person(request), now=now),
        "refusal": refusal,
        "options": [
            {**_in_words(option, place.student.zone, place.zone), "next": after}
            for option, after in _spread(whole, A_DAY_TO_MOVE)
        ],
    }
    return render(request, "move_weekly.html", page, status=refusal.status if refusal else 200)


def _read_time(text: str) -> list[int]:
    """Weekday, minute and, for a pair, the sibling's minute, of a form's value such as "1-1020-1050"."""
    parts = text.split("-")
    if len(parts) not in (2, 3):
        raise Refused("not-found", "Choose one of the weekly times.")
    return [number(part) for part in parts]
