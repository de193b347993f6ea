"""Moving a one-on-one to another start."""

from datetime import datetime, timedelta
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from accounts.models import Instructor, Student
from bookings import clock
from bookings.access import access_booking_to_move, access_own_booking, name_for
from bookings.domain.errors import Refused
from bookings.domain.policy import cancel_by
from bookings.domain.proposed_times import decline_by
from bookings.domain.timeline import Period
from bookings.door import write
from bookings.models import Booking
from bookings.operations.booking import move_slot
from bookings.operations.moving import move_pair
from bookings.pages.asking_again import NOTHING_ASKED, asked_again_of
from bookings.pages.ended_bookings import ended_page
from bookings.pages.forms.times import TimesForm
from bookings.pages.instructor_week import instructor_week
from bookings.pages.lessons import as_lesson
from bookings.pages.parameters import read_id, read_start, read_version
from bookings.pages.signed_in import books_for_school, family, user_of
from bookings.pages.slot_week import Search, week_of_times
from bookings.pages.times import page_of_week
from bookings.queries.policies import policy_in_force
from bookings.queries.siblings import lesson_beside
from bookings.queries.teaching import instructors_for, zone_of_hours
from bookings.queries.times import taught_to


@login_required
@require_http_methods(["GET", "POST"])
def move(request: HttpRequest, booking_id: int) -> HttpResponse:
    """GET shows other times or, with a start in the address, the move to confirm; POST moves."""
    now, user = clock.now(), user_of(request)
    asked = request.POST if request.method == "POST" else request.GET
    chosen = read_start(asked) if asked.get("starts_at") or asked.get("start") else None
    booking = access_booking_to_move(
        user, booking_id, instructor_id=chosen[0] if chosen else None, now=now, own=family(user)
    )
    if not booking.meeting.offering.is_one_on_one:
        return redirect("change-meeting", booking_id=booking.pk)
    context = _context(request, booking, now)
    gone = ended_page(request, booking, now) if request.method == "GET" else None
    if gone is not None:
        return gone
    if chosen is None:
        context |= _other_times(request, booking, context["is_instructor"], now)
        form = context.get("form") or context["shown_days"]
        return render(request, "levare/move.html", context, status=422 if form.errors else 200)
    context |= _new_start(request, context, chosen[1], _named_instructor(booking, chosen[0]), now)
    if request.method == "GET" or context["not_ticked"]:
        status = 422 if context["not_ticked"] else 200
        return render(request, "levare/move.html", context, status=status)
    return _move(request, booking, context, now)


def _move(
    request: HttpRequest, booking: Booking, context: dict[str, Any], now: datetime
) -> HttpResponse:
    """Moves to the start that the context names."""
    change: dict[str, Any] = {
        "actor": user_of(request),
        "booking": booking,
        "starts_at": context["starts_at"],
        "instructor": context["instructor"],
        "version": read_version(request),
        "now": now,
    }
    try:
        said = _write(request, change)
    except Refused as refusal:
        context["refusal"] = refusal
        return render(request, "levare/move.html", context, status=refusal.status)
    if context["is_instructor"]:
        messages.success(request, "Moved. The family gets an email with the new time.")
        return redirect("my-students")
    messages.success(request, said)
    return redirect("my-lessons")


def _write(request: HttpRequest, change: dict[str, Any]) -> str:
    """Moves the lesson, and the sibling's too where the form names it; returns what to say."""
    user, now = user_of(request), change["now"]
    if "with_sibling" not in request.POST:
        write(lambda: move_slot(**change), now=now)
        return "Moved. Your calendar will show the new time."
    pk, _, version = request.POST["with_sibling"].partition("@")
    sibling = access_own_booking(user, read_id(pk), now=now, own=family(user))
    shown = read_id(version)
    write(lambda: move_pair(**change, sibling=sibling, sibling_version=shown), now=now)
    return "Both lessons moved. Your calendar will show the new times."


def _context(request: HttpRequest, booking: Booking, now: datetime) -> dict[str, Any]:
    """What the page says of the lesson, on the clock of whoever moves it."""
    user, student = user_of(request), booking.student
    by_school = books_for_school(user, student)
    is_instructor = by_school and not user.is_staff
    return {
        **as_lesson(booking, now),
        "student": student,
        "name": name_for(user, student, now),
        "by_school": by_school,
        "is_instructor": is_instructor,
        "here": zone_of_hours(booking.meeting.instructor) if is_instructor else student.zone,
    }


def _new_start(
    request: HttpRequest,
    context: dict[str, Any],
    starts_at: datetime,
    instructor: Instructor,
    now: datetime,
) -> dict[str, Any]:
    """What the page says of the start to move to, and of a sibling's lesson that can go along."""
    booking, is_instructor = context["booking"], context["is_instructor"]
    beside = _movable_beside(booking, family(user_of(request)), now)
    step = starts_at - booking.starts_at
    return {
        "starts_at": starts_at,
        "instructor": instructor,
        "there": booking.student.zone if is_instructor else zone_of_hours(instructor),
        "new_cancel_by": cancel_by(booking.policy.rules(), starts_at),
        "decline_by": decline_by(now, starts_at) if context["by_school"] else None,
        "beside": beside,
        "beside_starts_at": beside.starts_at + step if beside is not None else None,
        "is_together": request.method == "GET" or "with_sibling" in request.POST,
        **(NOTHING_ASKED if is_instructor else _asked_again(request, booking, starts_at)),
    }


def _asked_again(request: HttpRequest, booking: Booking, starts_at: datetime) -> dict[str, Any]:
    ends_at = starts_at + timedelta(minutes=booking.meeting.minutes)
    return asked_again_of(request, booking.student, Period(starts_at, ends_at))


def _movable_beside(booking: Booking, own: list[Student], now: datetime) -> Booking | None:
    """A sibling's lesson next to this one that can still be moved."""
    beside = lesson_beside(booking, own=own, now=now)
    if beside is None or now > cancel_by(beside.policy.rules(), beside.starts_at):
        return None
    return beside


def _named_instructor(booking: Booking, instructor_id: int) -> Instructor:
    """The instructor to move to. Refused("not-found") for one who does not teach this."""
    people = instructors_for(booking.meeting.offering, booking.student.level, instructor_id)
    if not people:
        raise Refused("not-found", "This time is not offered. Choose another.")
    return people[0]


def _other_times(
    request: HttpRequest, booking: Booking, is_instructor: bool, now: datetime
) -> dict[str, Any]:
    """Seven days of starts from the lesson's own day on, or from the day asked for."""
    if not is_instructor:
        return _times_for_family(request, booking, now)
    return instructor_week(
        request,
        student=booking.student,
        offering=booking.meeting.offering,
        instructor=booking.meeting.instructor,
        book_at=request.path,
        moving=booking,
        now=now,
    )


def _times_for_family(request: HttpRequest, booking: Booking, now: datetime) -> dict[str, Any]:
    """The starts of everybody who teaches this, on the student's clock, with a form to narrow."""
    query, offering = request.GET, booking.meeting.offering
    taught = taught_to(booking.student).only([offering])
    form = TimesForm(query, taught=taught)
    del form.fields["offering"]
    asked = {**form.cleaned_data} if form.is_valid() else {}
    asked["since"] = asked.get("since") or booking.starts_at.date()
    search = Search(
        student=booking.student,
        offering=offering,
        asked=asked,
        taught=taught,
        policy=policy_in_force(now).rules(),
        book_at=request.path,
        now=now,
        with_far=query.get("far") == "on",
        with_never=query.get("never") == "on",
        moving=booking.meeting,
        use_by=booking.use_by,
        by_school=books_for_school(user_of(request), booking.student),
    )
    return {"form": form, **page_of_week(week_of_times(search), asked, query)}
