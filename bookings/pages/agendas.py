"""The order of players of a masterclass: a page for the room, where an admin also publishes it."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods

from bookings import clock
from bookings.access import (
    access_agenda,
    access_own_booking,
    may_run,
    names_in_a_room,
    own_students,
    require_admin,
)
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import Booking
from bookings.operations.agendas import (
    check_has_agenda,
    proposed_agenda,
    publish_agenda,
    say_leaves_by,
)
from bookings.pages.forms.agendas import AgendaForm, LeavesByForm
from bookings.pages.parameters import read_version
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.queries.agendas import PublishedAgenda, Turn, agenda_of, turns_of


@login_required
@require_http_methods(["GET", "POST"])
def agenda(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """GET shows the published order; an admin's POST works another out, or publishes it."""
    user, now = user_of(request), clock.now()
    meeting = access_agenda(user, meeting_id, now=now)
    if request.method == "POST":
        require_admin(user)
    found = agenda_of(meeting)
    form = AgendaForm(request.POST or None, meeting=meeting, players=found.players)
    if request.method == "GET" or not form.is_valid():
        return _page(request, found, form)
    try:
        if request.POST.get("then") == "publish":
            version = read_version(request)
            write(
                lambda: publish_agenda(
                    actor=user, meeting=meeting, said=form.said(), version=version, now=now
                ),
                now=now,
            )
            messages.success(request, "Published. Each player\u2019s family gets one email.")
            return redirect("agenda", meeting_id=meeting.pk)
        check_has_agenda(meeting, now)
        order = proposed_agenda(found, form.said(), now=now)
    except Refused as refusal:
        return _page(request, agenda_of(meeting), form, refusal=refusal)
    turns = turns_of(order, found.players)
    return _page(request, agenda_of(meeting), form, proposed=turns, ends_at=order.ends_at)


def _page(
    request: HttpRequest,
    found: PublishedAgenda,
    form: AgendaForm,
    *,
    refusal: Refused | None = None,
    proposed: Sequence[Turn] = (),
    ends_at: datetime | None = None,
) -> HttpResponse:
    user, now, meeting = user_of(request), clock.now(), found.meeting
    names = names_in_a_room(found.people, now)
    context: dict[str, Any] = {
        "meeting": meeting,
        "found": found,
        "turns": [(names[turn.booking.student_id], turn) for turn in found.turns],
        "without_turn": [names[booking.student_id] for booking in found.without_turn],
        "proposed": [(turn.booking.student.full_name, turn) for turn in proposed],
        "ends_at": ends_at,
        "runs": may_run(user, meeting),
        "own": {student.pk for student in own_students(user, now=now)},
        "form": form,
        "may_publish": user.is_staff and not meeting.is_cancelled and meeting.starts_at > now,
        "refusal": refusal,
    }
    return show(request, "levare/agenda.html", context)


@login_required
@require_http_methods(["GET", "POST"])
def leaves_by(request: HttpRequest, booking_id: int) -> HttpResponse:
    """A family says by when a player must leave."""
    user, now = user_of(request), clock.now()
    booking = access_own_booking(user, booking_id, now=now)
    form = LeavesByForm(request.POST or None, booking=booking)
    if request.method == "GET" or not form.is_valid():
        return _leaves_by_page(request, booking, form)
    try:
        write(
            lambda: say_leaves_by(
                actor=user,
                booking=booking,
                leaves_by=form.instant(),
                version=read_version(request),
                now=now,
            ),
            now=now,
        )
    except Refused as refusal:
        return _leaves_by_page(request, booking, form, refusal)
    messages.success(request, "Saved. The order of players takes it into account.")
    return redirect("my-lessons")


def _leaves_by_page(
    request: HttpRequest, booking: Booking, form: LeavesByForm, refusal: Refused | None = None
) -> HttpResponse:
    context = {"booking": booking, "form": form, "refusal": refusal}
    return show(request, "levare/leaves_by.html", context)
