"""Taking a weekly place, moving it, and giving it up."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from accounts.models import Instructor, Student
from bookings import clock
from bookings.access import access_own_weekly_place
from bookings.domain.errors import Refused
from bookings.domain.weekly import WeeklyOption, WeeklyTime
from bookings.door import write
from bookings.models import Offering, Term, WeeklyPlace
from bookings.operations.weekly import leave_weekly_place, move_weekly_place, take_weekly_place
from bookings.pages.asking_again import asked_again
from bookings.pages.forms.weekly import WeeklyForm
from bookings.pages.parameters import read_id, read_version
from bookings.pages.signed_in import acting_student, family, user_of
from bookings.pages.weekly_rows import on_weekday, rows_of, weekly_row
from bookings.queries.policies import policy_in_force
from bookings.queries.teaching import zone_of_hours
from bookings.queries.times import Taught, taught_to
from bookings.queries.weekly import judge
from bookings.queries.weekly_moves import options_instead
from bookings.queries.weekly_places import lessons_left
from bookings.queries.weekly_places import term as term_of


@dataclass(frozen=True, slots=True)
class WantedPlace:
    """A weekly time that a student asks for."""

    student: Student
    term: Term
    offering: Offering
    instructor: Instructor
    at: WeeklyTime
    people: list[Instructor]
    """All who teach the offering to this student."""


@login_required
@require_http_methods(["GET", "POST"])
def take(request: HttpRequest) -> HttpResponse:
    """GET shows every date of a weekly time, and which of them are unavailable; POST takes it."""
    wanted, now = _read_wanted(request), clock.now()
    option = _judged(wanted, now)
    again = asked_again(request, option.worst)
    if request.method == "GET" or again["not_ticked"]:
        return _take_page(request, wanted, option)
    without = _dates(request.POST.getlist("without"))
    try:
        write(
            lambda: take_weekly_place(
                actor=user_of(request),
                student=wanted.student,
                term=wanted.term,
                offering=wanted.offering,
                instructor=wanted.instructor,
                weekday=wanted.at.weekday,
                wall_at=wanted.at.minute,
                without=without,
                now=now,
            ),
            now=now,
        )
    except Refused as refusal:
        return _take_page(request, wanted, _judged(wanted, now), refusal)
    messages.success(
        request,
        f"The place is yours for {wanted.term}. The dates are under My lessons and on their way"
        " by email.",
    )
    return redirect("weekly")


def _read_wanted(request: HttpRequest) -> WantedPlace:
    """The weekly time that the address or the form names. Refused("not-found")."""
    student = acting_student(request)
    asked = request.POST if request.method == "POST" else request.GET
    term = term_of(read_id(asked.get("term")))
    taught = taught_to(student)
    offering = taught.offering(read_id(asked.get("offering")))
    instructor = taught.instructor(offering, read_id(asked.get("instructor")))
    if term is None or offering is None or instructor is None:
        raise Refused(
            "not-found", "This weekly time is not offered. Choose one under Weekly places."
        )
    at = WeeklyTime(read_id(asked.get("weekday")), read_id(asked.get("wall_at")))
    people = taught.instructors[offering.pk]
    return WantedPlace(student, term, offering, instructor, at, people)


def _judged(wanted: WantedPlace, now: datetime) -> WeeklyOption:
    return judge(
        student=wanted.student,
        term=wanted.term,
        offering=wanted.offering,
        instructor=wanted.instructor,
        at=wanted.at,
        people=wanted.people,
        policy=policy_in_force(now),
        now=now,
    )


def _take_page(
    request: HttpRequest,
    wanted: WantedPlace,
    option: WeeklyOption,
    refusal: Refused | None = None,
) -> HttpResponse:
    again = asked_again(request, option.worst)
    context = {
        "student": wanted.student,
        "term": wanted.term,
        "offering": wanted.offering,
        "instructor": wanted.instructor,
        "at": wanted.at,
        "refusal": refusal,
        **weekly_row(option, wanted.student.zone, zone_of_hours(wanted.instructor)),
        **again,
    }
    status = refusal.status if refusal else 422 if again["not_ticked"] else 200
    return render(request, "levare/take_weekly.html", context, status=status)


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
    """GET says which lessons would be cancelled and which stay; POST gives up the place."""
    now = clock.now()
    user = user_of(request)
    place = access_own_weekly_place(user, place_id, now=now, own=family(user))
    ends, stays = lessons_left(place, now=now)
    context = {
        "place": place,
        "student": place.student,
        "stays": stays,
        "ends": ends,
    }
    if request.method == "GET":
        return render(request, "levare/leave_weekly.html", context)
    version = read_version(request)
    try:
        write(
            lambda: leave_weekly_place(actor=user, place=place, version=version, now=now), now=now
        )
    except Refused as refusal:
        return render(
            request,
            "levare/leave_weekly.html",
            {**context, "refusal": refusal},
            status=refusal.status,
        )
    messages.success(request, "Weekly place given up. The email lists the cancelled lessons.")
    return redirect("weekly")


@login_required
@require_http_methods(["GET", "POST"])
def move(request: HttpRequest, place_id: int) -> HttpResponse:
    """GET shows the weekly times that hold every date, a sibling's next to it; POST moves there."""
    now, user = clock.now(), user_of(request)
    place = access_own_weekly_place(user, place_id, now=now, own=family(user))
    if request.method == "GET":
        return _move_page(request, place, now)
    weekday, wall_at, *after = _read_time(request.POST.get("to", ""))
    version = read_version(request)
    try:
        write(
            lambda: move_weekly_place(
                actor=user,
                place=place,
                weekday=weekday,
                wall_at=wall_at,
                next_wall_at=after[0] if after else None,
                version=version,
                now=now,
            ),
            now=now,
        )
    except Refused as refusal:
        return _move_page(request, place, now, refusal)
    messages.success(request, "Moved. One email with all the new dates is on its way.")
    return redirect("weekly")


def _move_page(
    request: HttpRequest, place: WeeklyPlace, now: datetime, refusal: Refused | None = None
) -> HttpResponse:
    form = WeeklyForm(request.GET, taught=Taught(place.student.level, [], {}), terms=[])
    for name in ("term", "offering", "instructor"):
        del form.fields[name]
    asked = form.cleaned_data if form.is_valid() else {}
    user, here = user_of(request), place.student.zone
    found = options_instead(
        place=place,
        user=user,
        earliest=asked.get("earliest"),
        latest=asked.get("latest"),
        own=family(user),
        now=now,
    )
    whole = [pair for pair in found.options if not any(one and one.failed for one in pair)]
    best, days = rows_of(
        on_weekday(whole, asked.get("weekday")),
        lambda option: weekly_row(option, here, place.zone),
        here,
    )
    context = {
        "place": place,
        "student": place.student,
        "following": found.following,
        "refusal": refusal,
        "form": form,
        "is_asked": any(value is not None for value in asked.values()),
        "best": best,
        "days": days,
    }
    status = refusal.status if refusal else 422 if form.errors else 200
    return render(request, "levare/move_weekly.html", context, status=status)


def _read_time(text: str) -> list[int]:
    """Weekday and minute of a form's value such as "1-1020"; of "1-1020-1050" the sibling's too."""
    parts = text.split("-")
    if len(parts) not in (2, 3):
        raise Refused("not-found", "Choose one of the weekly times.")
    return [read_id(part) for part in parts]
