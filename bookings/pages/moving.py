"""Moving a one-on-one to another start."""

from datetime import datetime
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from accounts.models import Instructor
from bookings import clock
from bookings.access import access_own_booking
from bookings.domain.errors import Refused
from bookings.domain.policy import cancel_by
from bookings.domain.timeline import rfc3339
from bookings.door import write
from bookings.models import Booking
from bookings.operations.booking import move_slot
from bookings.pages.ended_bookings import ended_page
from bookings.pages.forms.times import TimesForm
from bookings.pages.lessons import as_lesson
from bookings.pages.parameters import read_start
from bookings.pages.signed_in import family, user_of
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
    booking = access_own_booking(user, booking_id, now=now, own=family(user))
    if not booking.meeting.offering.is_one_on_one:
        return redirect("change-meeting", booking_id=booking.pk)
    context: dict[str, Any] = {**as_lesson(booking, now), "student": booking.student}
    gone = ended_page(request, booking, now) if request.method == "GET" else None
    if gone is not None:
        return gone
    asked = request.POST if request.method == "POST" else request.GET
    if not asked.get("starts_at") and not asked.get("start"):
        context |= _other_times(booking, asked, request.path, now)
        status = 422 if context["form"].errors else 200
        return render(request, "levare/move.html", context, status=status)
    starts_at, instructor = _read_new_start(booking, asked)
    context |= {
        "starts_at": starts_at,
        "instructor": instructor,
        "new_zone": zone_of_hours(instructor),
        "new_cancel_by": cancel_by(booking.policy.rules(), starts_at),
    }
    if request.method == "GET":
        return render(request, "levare/move.html", context)
    try:
        moved = write(
            lambda: move_slot(
                actor=user, booking=booking, starts_at=starts_at, instructor=instructor, now=now
            ),
            now=now,
        )
    except Refused as refusal:
        context["refusal"] = refusal
        return render(request, "levare/move.html", context, status=refusal.status)
    return _done(request, booking, moved, now)


def _done(request: HttpRequest, was: Booking, moved: Booking, now: datetime) -> HttpResponse:
    """Back to the lessons; or, where a sibling's lesson stood next to it and the instructor is the
    same, to the move that puts them next to each other again.
    """
    messages.success(request, "Moved. Your calendar will show the new time.")
    same_instructor = was.meeting.instructor_id == moved.meeting.instructor_id
    own = family(user_of(request)) if same_instructor else []
    beside = lesson_beside(was, own=own, now=now)
    if beside is None:
        return redirect("my-lessons")
    messages.info(
        request,
        f"{beside.student.first_name}’s lesson was next to it. You can move it too: this time is "
        f"next to {was.student.first_name}’s new one.",
    )
    starts_at = rfc3339(beside.starts_at + (moved.starts_at - was.starts_at))
    query = urlencode({"instructor": was.meeting.instructor_id, "starts_at": starts_at})
    return redirect(f"{reverse('move', args=[beside.pk])}?{query}")


def _read_new_start(booking: Booking, asked: QueryDict) -> tuple[datetime, Instructor]:
    """The start to move to, and the instructor named. Refused("not-found")."""
    instructor_id, starts_at = read_start(asked)
    people = instructors_for(booking.meeting.offering, booking.student.level, instructor_id)
    if not people:
        raise Refused("not-found", "This time is not offered. Choose another.")
    return starts_at, people[0]


def _other_times(booking: Booking, query: QueryDict, path: str, now: datetime) -> dict[str, Any]:
    """Seven days of starts from the lesson's own day on, or from the day asked for."""
    offering = booking.meeting.offering
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
        book_at=path,
        now=now,
        with_far=query.get("far") == "on",
        moving=booking.meeting,
    )
    return {"form": form, **page_of_week(week_of_times(search), asked, query)}
