"""The waiting list of a meeting as an admin changes it from the roster, with a reason."""

from collections.abc import Callable
from functools import partial
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_POST

from bookings import clock
from bookings.access import access_meeting, access_student, require_admin
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import PlaceKind
from bookings.models import WaitingPlace
from bookings.operations import waiting_exceptions as acts
from bookings.pages.forms.fields import line_of
from bookings.pages.parameters import read_id, read_version
from bookings.pages.rosters import act_on_roster, place_kind_of, show_roster
from bookings.pages.signed_in import user_of

_ACTS: dict[str, tuple[Callable[..., WaitingPlace], str]] = {
    "wait": (acts.add_to_waiting_list, "On the waiting list. The family gets one email."),
    "hold": (acts.hold_next_place, "The next free place is held for this student."),
    "let-go": (acts.let_next_place_go, "The next free place is not held any more."),
    "leave": (acts.remove_from_waiting_list, "Off the waiting list. The family gets one email."),
}


@login_required
@require_POST
def change_waiting_list(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """Adds or removes a student, holds the next free place for one, or lets go of it.

    The student is `who`, as found by name, or `waits`: one of those who wait and what for.
    """
    user, now = user_of(request), clock.now()
    require_admin(user)
    found = access_meeting(user, meeting_id, now=now)
    verb, done = _ACTS.get(request.POST.get("then", ""), _ACTS["wait"])
    who, kind = _whom(request)
    if not who:
        why = "Choose a student: type part of a name and press Find."
        return show_roster(request, found, Refused("invalid", why, field="who"))
    act: dict[str, Any] = {
        "actor": user,
        "student": access_student(user, read_id(who), now=now),
        "meeting": found,
        "place_kind": kind,
        "reason": line_of(request.POST.get("reason", "")),
        "now": now,
    }
    if verb is not acts.add_to_waiting_list:
        act["meeting_version"] = read_version(request)
    return act_on_roster(request, found, partial(verb, **act), done)


def _whom(request: HttpRequest) -> tuple[str, PlaceKind]:
    """The id of the student as it was sent, and the kind of place; "listener-12" says both."""
    kind, _, student = request.POST.get("waits", "").partition("-")
    if student:
        is_listener = kind == PlaceKind.LISTENER.value
        return student, PlaceKind.LISTENER if is_listener else PlaceKind.PLAYER
    return request.POST.get("who", ""), place_kind_of(request)
