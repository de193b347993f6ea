"""Meetings that a person runs, and group meetings that a student may join."""

from collections.abc import Callable
from functools import partial
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from accounts.models import Student, User
from bookings import clock
from bookings.access import access_meeting, may_run
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import PlaceKind
from bookings.door import write
from bookings.models import Meeting
from bookings.operations.places import book_place
from bookings.operations.waiting import join_waiting_list, leave_waiting_list
from bookings.pages.confirmation import Question, confirmation_page
from bookings.pages.forms.fields import line_of
from bookings.pages.forms.lists import ListForm
from bookings.pages.lists import taught_form
from bookings.pages.pagination import paginate
from bookings.pages.rosters import as_run, place_kind_of, show_roster
from bookings.pages.showing import show
from bookings.pages.signed_in import acting_student, family, roles, user_of
from bookings.queries.group_meetings import group_meetings_for, open_group_meetings
from bookings.queries.rosters import run_by

A_PAGE = 50
A_LIST = 20
RUNNER_WORDS = "Part of a title or of a student’s name"


@login_required
@require_GET
def meetings(request: HttpRequest) -> HttpResponse:
    """An instructor's or admin's meetings, ahead or past; for a family, the open group meetings."""
    user, now, asked = user_of(request), clock.now(), request.GET
    is_runner = roles(user).runs_meetings
    if not is_runner or "student" in asked:
        return _for_family(request)
    past, form = asked.get("past") == "yes", taught_form(request, words=RUNNER_WORDS)
    found = run_by(user, past=past, **form.narrows(), now=now)
    shown = paginate(found, asked.get("page"), size=A_PAGE)
    context = {
        "runs": [as_run(meeting, user, now) for meeting in shown],
        "shown": shown,
        "past": past,
        "form": form,
    }
    return show(request, "levare/meetings.html", context)


def _for_family(request: HttpRequest) -> HttpResponse:
    user, now = user_of(request), clock.now()
    student = acting_student(request) if family(user) or user.is_staff else None
    form = ListForm(request.GET, words="Part of a title or of an instructor’s name")
    found = open_group_meetings(words=form.words, now=now)
    shown = paginate(found, request.GET.get("page"), size=A_LIST)
    group = group_meetings_for(student, shown.rows, now=now) if student is not None else []
    context = {"student": student, "group": group, "shown": shown, "form": form}
    return show(request, "levare/group_meetings.html", context)


@login_required
@require_GET
def meeting(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """The roster to those who run it; a group meeting's page to a student."""
    user, now = user_of(request), clock.now()
    found = access_meeting(user, meeting_id, now=now)
    if may_run(user, found):
        return show_roster(request, found)
    if found.offering.is_one_on_one:
        return redirect("my-lessons")
    student = acting_student(request)
    return _show(request, found, student)


def _show(
    request: HttpRequest, found: Meeting, student: Student, refusal: Refused | None = None
) -> HttpResponse:
    (joined,) = group_meetings_for(student, [found], now=clock.now())
    context = {"joined": joined, "meeting": found, "student": student, "refusal": refusal}
    return show(request, "levare/group_meeting.html", context)


@login_required
@require_POST
def take_place(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """Books a place in a group meeting for the acting student."""
    student, now = acting_student(request), clock.now()
    found, kind = access_meeting(user_of(request), meeting_id, now=now), place_kind_of(request)
    act = partial(
        book_place,
        actor=user_of(request),
        student=student,
        meeting=found,
        place_kind=kind,
        now=now,
    )
    return _act_as_student(
        request, found, student, act, "Booked. The invitation is on its way by email."
    )


@login_required
@require_http_methods(["GET", "POST"])
def waiting_list(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """GET asks once before leaving the waiting list; POST joins it, or leaves it."""
    student, now = acting_student(request), clock.now()
    found, kind = access_meeting(user_of(request), meeting_id, now=now), place_kind_of(request)
    if request.method == "GET":
        return confirmation_page(request, _leaving(user_of(request), found, student, kind))
    leaves = request.POST.get("then") == "leave"
    applies = found.players_are_chosen and kind == PlaceKind.PLAYER
    asked: dict[str, Any] = {"actor": user_of(request), "student": student, "meeting": found}
    asked |= {"place_kind": kind, "now": now}
    act: Callable[[], object] = (
        partial(leave_waiting_list, **asked)
        if leaves
        else partial(join_waiting_list, **asked, **_application(request))
    )
    return _act_as_student(request, found, student, act, _done(leaves=leaves, applies=applies))


def _leaving(user: User, found: Meeting, student: Student, kind: PlaceKind) -> Question:
    """What leaving the line means; an application that is withdrawn can be sent again."""
    name = found.title or found.offering.name
    hidden: dict[str, object] = {"student": student.pk, "as": kind.value, "then": "leave"}
    back = f"{reverse('meeting', args=[found.pk])}?student={student.pk}"
    if found.players_are_chosen and kind == PlaceKind.PLAYER:
        follows = ["The school does not consider the application any more."]
        return Question(f"Withdraw from {name}?", follows, "Withdraw", back, hidden)
    is_own = student.user_id == user.pk
    loses = "You lose your" if is_own else f"{student.first_name} loses their"
    follows = [f"{loses} position in line. Joining again begins at its end."]
    title = f"Leave the waiting list of {name}?"
    return Question(title, follows, "Leave the waiting list", back, hidden)


def _application(request: HttpRequest) -> dict[str, Any]:
    """What a family writes with its application, cut to the length that is kept."""
    return {
        "piece": line_of(request.POST.get("piece", ""))[:200],
        "recording": line_of(request.POST.get("recording", ""))[:300],
    }


def _done(*, leaves: bool, applies: bool) -> str:
    if applies:
        return "Withdrawn." if leaves else "Applied. The school chooses, and emails you either way."
    if leaves:
        return "You have left the waiting list."
    return "On the waiting list. A freed place is offered to the first in line, by email."


def _act_as_student(
    request: HttpRequest, found: Meeting, student: Student, act: Callable[[], object], done: str
) -> HttpResponse:
    now = clock.now()
    try:
        write(act, now=now)
    except Refused as refusal:
        found = access_meeting(user_of(request), found.pk, now=now)
        return _show(request, found, student, refusal)
    messages.success(request, done)
    return redirect("meetings")
