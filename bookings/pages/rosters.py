"""The roster of a meeting, for those who run it: who is in, who waits, who came."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from accounts.models import User
from bookings import clock
from bookings.access import (
    access_booking,
    access_meeting,
    access_student,
    name_for,
    not_there,
    require_admin,
)
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Attendance, PlaceKind
from bookings.door import write
from bookings.models import Booking, Meeting, WaitingPlace
from bookings.operations.choosing import is_choice_open
from bookings.operations.handing_over import hand_over_place
from bookings.operations.places import book_place, leave_place
from bookings.operations.reinstating import can_return
from bookings.pages.forms.fields import line_of
from bookings.pages.parameters import read_id, read_version
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.queries.picking import Whom, people_matching
from bookings.queries.rosters import roster_of


def as_run(meeting: Meeting, user: User, now: datetime) -> dict[str, Any]:
    """A meeting with its people, as somebody who runs it reads their names."""
    people: list[Booking] = getattr(meeting, "live", [])
    return {
        "meeting": meeting,
        "people": [
            {"booking": booking, "name": name_for(user, booking.student, now)} for booking in people
        ],
        "begun": meeting.starts_at <= now,
        "over": meeting.ends_at <= now,
        "teaches": meeting.instructor.user_id == user.pk,
    }


def show_roster(
    request: HttpRequest, found: Meeting, refusal: Refused | None = None
) -> HttpResponse:
    """The roster page; after a refusal with what was typed."""
    user, now = user_of(request), clock.now()
    meeting = roster_of(found)
    row, typed = as_run(meeting, user, now), request.POST
    for entry in row["people"]:
        mark = getattr(entry["booking"], "mark", None)
        stored = mark.attendance if mark else ""
        entry["stored"] = stored
        entry["mark"] = typed.get(f"mark-{entry['booking'].pk}", stored)
        entry["entries"] = list(entry["booking"].entries.all())
    held = [entry for entry in row["people"] if entry["booking"].standing == "HELD"]
    queue = meeting.queue  # type: ignore[attr-defined]
    context = {
        **row,
        "held": held,
        "unmarked": sum(not entry["stored"] for entry in held),
        "nobody_taught": all(entry["stored"] == Attendance.INSTRUCTOR_ABSENT for entry in held),
        "players": sum(entry["booking"].place_kind == PlaceKind.PLAYER for entry in held),
        "offered": [entry for entry in row["people"] if entry["booking"].standing == "OFFERED"],
        "waiting": [
            {"waiting": one, "id": str(one.student_id), "name": name_for(user, one.student, now)}
            for one in queue
        ],
        "holds_next": any(one.is_next for one in queue),
        "attendances": [attendance.value for attendance in Attendance],
        "can_choose": user.is_staff and is_choice_open(found, now=now),
        "can_return": can_return(found, now=now),
        "refusal": refusal,
        "typed": typed,
    }
    if user.is_staff:
        context |= _adding(request, meeting, held, queue)
    return show(request, "levare/roster.html", context)


def _adding(
    request: HttpRequest,
    meeting: Meeting,
    held: list[dict[str, Any]],
    queue: list[WaitingPlace],
) -> dict[str, Any]:
    """What an admin needs to add somebody: the students found, and the places to hand over."""
    words = line_of(request.POST.get("find") or request.GET.get("find", ""))
    found = people_matching(Whom.STUDENT, words)
    both = (
        (PlaceKind.PLAYER, meeting.places, meeting.taken),
        (PlaceKind.LISTENER, meeting.listener_places, meeting.listeners_taken),
    )
    full = {kind.value for kind, places, taken in both if places and taken >= places}
    return {
        "find": words,
        "found": found.people,
        "more_found": found.has_more,
        "full": full,
        "can_pass": any(one.place_kind not in full for one in queue),
        "holders": [entry for entry in held if entry["booking"].place_kind in full],
    }


def act_on_roster(
    request: HttpRequest,
    found: Meeting,
    act: Callable[[], object],
    done: str,
    on_to: str = "",
) -> HttpResponse:
    """One operation from the roster page, or from the one that `on_to` leads back to; a refusal is
    said on the roster page.
    """
    try:
        write(act, now=clock.now())
    except Refused as refusal:
        return show_roster(request, found, refusal)
    messages.success(request, done)
    return redirect(on_to or reverse("meeting", args=[found.pk]))


@login_required
@require_POST
def change_roster(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """An admin adds or removes somebody, with a reason."""
    user, now = user_of(request), clock.now()
    require_admin(user)
    found = access_meeting(user, meeting_id, now=now)
    reason = line_of(request.POST.get("reason", ""))
    if not reason:
        why = "Say why: the reason is kept with the change."
        return show_roster(request, found, Refused("invalid", why, field="reason"))
    if request.POST.get("booking"):
        booking, version = _booking_in(request, found, "booking"), read_version(request)
        return act_on_roster(
            request,
            found,
            lambda: leave_place(
                actor=user, booking=booking, meeting_version=version, reason=reason, now=now
            ),
            "Removed.",
        )
    return _add(request, found, reason)


def _add(request: HttpRequest, found: Meeting, reason: str) -> HttpResponse:
    user, now, version = user_of(request), clock.now(), read_version(request)
    if not request.POST.get("who"):
        why = "Choose a student: type part of a name and press Find."
        return show_roster(request, found, Refused("invalid", why, field="who"))
    student = access_student(user, read_id(request.POST["who"]), now=now)
    if request.POST.get("instead_of"):
        leaving = _booking_in(request, found, "instead_of")
        return act_on_roster(
            request,
            found,
            lambda: hand_over_place(
                actor=user,
                booking=leaving,
                student=student,
                reason=reason,
                meeting_version=version,
                now=now,
            ),
            f"{student.full_name} has the place of {leaving.student.full_name}.",
        )
    ahead = request.POST.get("ahead") == "yes"
    return act_on_roster(
        request,
        found,
        lambda: book_place(
            actor=user,
            student=student,
            meeting=found,
            place_kind=place_kind_of(request),
            reason=reason,
            ahead_of_queue=ahead,
            # Whoever passes over those who wait has to have seen them; a free place is free.
            meeting_version=version if ahead else None,
            now=now,
        ),
        "Added.",
    )


def _booking_in(request: HttpRequest, meeting: Meeting, name: str) -> Booking:
    booking = access_booking(user_of(request), read_id(request.POST[name]), now=clock.now())
    if booking.meeting_id != meeting.pk:
        raise not_there()
    return booking


def place_kind_of(request: HttpRequest) -> PlaceKind:
    """The kind of place that a form, or an address, asks for."""
    return (
        PlaceKind.LISTENER
        if (request.POST.get("as") or request.GET.get("as")) == PlaceKind.LISTENER.value
        else PlaceKind.PLAYER
    )
