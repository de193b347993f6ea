"""Requests to move a lesson: a family asks, the instructor or an admin answers."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from bookings import clock
from bookings.access import access_move_request, access_own_booking, name_for
from bookings.domain.errors import Refused
from bookings.domain.instants import resolve_once
from bookings.door import write
from bookings.operations.move_requests import accept_move_request, refuse_move_request, request_move
from bookings.pages.forms.move_requests import MoveRequestForm
from bookings.pages.lessons import as_lesson
from bookings.pages.lists import taught_form
from bookings.pages.pagination import paginate
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.queries.move_requests import open_request, requests_to_answer

PAGE_OF = 20


@login_required
@require_GET
def move_requests(request: HttpRequest) -> HttpResponse:
    """The open ones: an instructor's own, everybody's for an admin."""
    return _show(request)


@login_required
@require_POST
def answer_move_request(request: HttpRequest, request_id: int) -> HttpResponse:
    """Moves the lesson, or leaves it where it is. Refused if the family has asked again since."""
    user, now = user_of(request), clock.now()
    found = access_move_request(user, request_id, to_answer=True, now=now)
    moves = request.POST.get("say") == "yes"
    act = accept_move_request if moves else refuse_move_request
    try:
        if request.POST.get("read") != found.asked_at.isoformat():
            raise Refused("stale", "The family has just asked again. Read it again, then decide.")
        write(lambda: act(actor=user, request=found, now=now), now=now)
    except Refused as refusal:
        return _show(request, refusal)
    messages.success(
        request,
        "Moved. Everybody concerned gets an email."
        if moves
        else "It stays as it is. The family gets an email.",
    )
    return redirect("move-requests")


def _show(request: HttpRequest, refusal: Refused | None = None) -> HttpResponse:
    user, now = user_of(request), clock.now()
    form = taught_form(request)
    rows = requests_to_answer(user, **form.narrows(), now=now)
    shown = paginate(rows, request.GET.get("page"), size=PAGE_OF)
    asked = [
        {"request": row, "name": name_for(user, row.booking.student, now)} for row in shown.rows
    ]
    context = {"asked": asked, "shown": shown, "form": form, "refusal": refusal}
    return show(request, "levare/move_requests.html", context)


@login_required
@require_http_methods(["GET", "POST"])
def ask_to_move(request: HttpRequest, booking_id: int) -> HttpResponse:
    """GET shows the open request; POST asks, and replaces an older request."""
    now = clock.now()
    booking = access_own_booking(user_of(request), booking_id, now=now)
    form = MoveRequestForm(request.POST or None)
    context = {
        **as_lesson(booking, now),
        "student": booking.student,
        "form": form,
        "asked": open_request(booking),
    }
    if request.method == "POST" and form.is_valid():
        try:
            starts_at = resolve_once(form.wall(), booking.student.zone)
            write(
                lambda: request_move(
                    actor=user_of(request), booking=booking, starts_at=starts_at, now=now
                ),
                now=now,
            )
        except Refused as refusal:
            return show(request, "levare/ask_to_move.html", {**context, "refusal": refusal})
        messages.success(
            request,
            f"Request sent. The lesson is not moved until {booking.meeting.instructor} agrees.",
        )
        return redirect("my-lessons")
    return show(request, "levare/ask_to_move.html", context)
