"""The school chooses the players among those who have applied, and closes the choice."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from bookings import clock
from bookings.access import access_meeting, access_student, require_admin
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import Meeting
from bookings.operations.choosing import choose_player, close_choice
from bookings.pages.confirmation import Question, confirmation_page
from bookings.pages.parameters import read_id, read_version
from bookings.pages.rosters import show_roster
from bookings.pages.signed_in import user_of
from bookings.queries.rosters import count_applied


@login_required
@require_POST
def choose(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """An admin gives a player place to one who has applied."""
    user, now = user_of(request), clock.now()
    require_admin(user)
    found = access_meeting(user, meeting_id, now=now)
    student = access_student(user, read_id(request.POST.get("who", "")), now=now)
    version = read_version(request)
    try:
        write(
            lambda: choose_player(
                actor=user, student=student, meeting=found, version=version, now=now
            ),
            now=now,
        )
    except Refused as refusal:
        return show_roster(request, found, refusal)
    messages.success(request, f"{student.full_name} plays. They get the invitation by email.")
    return redirect("meeting", meeting_id=found.pk)


@login_required
@require_http_methods(["GET", "POST"])
def close(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """GET says how many are told; POST closes the choice."""
    user, now = user_of(request), clock.now()
    require_admin(user)
    found = access_meeting(user, meeting_id, now=now)
    if request.method == "GET":
        return confirmation_page(request, _question(found))
    version = read_version(request)
    try:
        write(lambda: close_choice(actor=user, meeting=found, version=version, now=now), now=now)
    except Refused as refusal:
        return confirmation_page(request, _question(found), refusal)
    messages.success(request, "The choice is closed. Everybody not chosen gets one email.")
    return redirect("meeting", meeting_id=found.pk)


def _question(found: Meeting) -> Question:
    count = count_applied(found)
    name = found.title or found.offering.name
    return Question(
        f"Close the choice of players for {name}?",
        [
            f"{found.taken} of {found.places} player places are given. "
            f"Not chosen: {count}. Each family gets one email and cannot apply again."
        ],
        "Close the choice",
        reverse("meeting", args=[found.pk]),
        {"version": found.version},
    )
