"""What families' calendars ask to move: a person looks and answers; until then nothing moves."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST

from bookings import clock
from bookings.access import access_move_request, move_requests_of, name_for
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.operations.move_requests import accept_move_request, refuse_move_request
from bookings.pages.acting import person


@login_required
@require_GET
def move_requests(request: HttpRequest) -> HttpResponse:
    """The open ones: an instructor's own, everybody's for an admin."""
    return _show(request)


@login_required
@require_POST
def answer_move_request(request: HttpRequest, request_id: int) -> HttpResponse:
    """Moves the lesson, or leaves it where it is. The answer is to the wish that the page showed, not to a newer one."""
    user, now = person(request), clock.now()
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
    user, now = person(request), clock.now()
    asked = [
        {"request": row, "name": name_for(user, row.booking.student, now)}
        for row in move_requests_of(user, now=now)
    ]
    return render(
        request,
        "levare/move_requests.html",
        {"asked": asked, "refusal": refusal},
        status=refusal.status if refusal else 200,
    )
