"""The school chooses the players among those who have applied, and closes the choice."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from bookings import clock
from bookings.access import access_meeting, access_student, require_admin
from bookings.models import Meeting
from bookings.operations.choosing import choose_player, close_choice
from bookings.pages.confirmation import Question, confirmed
from bookings.pages.parameters import read_id, read_version
from bookings.pages.rosters import act_on_roster
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
    return act_on_roster(
        request,
        found,
        lambda: choose_player(actor=user, student=student, meeting=found, version=version, now=now),
        f"{student.full_name} plays. They get the invitation by email.",
    )


@login_required
@require_http_methods(["GET", "POST"])
def close(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """GET says how many are told; POST closes the choice."""
    user, now = user_of(request), clock.now()
    require_admin(user)
    found = access_meeting(user, meeting_id, now=now)
    question, version = _question(found), read_version(request)
    return confirmed(
        request,
        question,
        lambda: close_choice(actor=user, meeting=found, version=version, now=now),
        done="The choice is closed. Everybody not chosen gets one email.",
        to=question.back,
    )


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
