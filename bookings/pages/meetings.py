"""Meetings that a person runs, and group meetings that a student may join."""

from collections.abc import Callable
from functools import partial

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST

from accounts.models import Student
from bookings import clock
from bookings.access import access_meeting, may_run
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import Meeting
from bookings.operations.places import book_place
from bookings.operations.waiting import join_waiting_list, leave_waiting_list
from bookings.pages.pagination import paginate
from bookings.pages.rosters import as_run, place_kind_of, show_roster
from bookings.pages.signed_in import acting_student, family, roles, user_of
from bookings.queries.group_meetings import group_meetings_for, open_group_meetings
from bookings.queries.rosters import run_by

A_PAGE = 50
A_LIST = 20


@login_required
@require_GET
def meetings(request: HttpRequest) -> HttpResponse:
    """An instructor's or admin's meetings, ahead or past; for a family, the open group meetings."""
    user, now, asked = user_of(request), clock.now(), request.GET
    is_runner = roles(user).runs_meetings
    if not is_runner or "student" in asked:
        return _for_family(request)
    past = asked.get("past") == "yes"
    shown = paginate(run_by(user, past=past, now=now), asked.get("page"), size=A_PAGE)
    context = {
        "runs": [as_run(meeting, user, now) for meeting in shown],
        "shown": shown,
        "past": past,
    }
    return render(request, "levare/meetings.html", context)


def _for_family(request: HttpRequest) -> HttpResponse:
    user, now = user_of(request), clock.now()
    student = acting_student(request) if family(user) or user.is_staff else None
    shown = paginate(open_group_meetings(now=now), request.GET.get("page"), size=A_LIST)
    group = group_meetings_for(student, shown.rows, now=now) if student is not None else []
    context = {"student": student, "group": group, "shown": shown}
    return render(request, "levare/group_meetings.html", context)


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
    return render(
        request, "levare/group_meeting.html", context, status=refusal.status if refusal else 200
    )


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
@require_POST
def waiting_list(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """Joins the waiting list, or leaves it."""
    student, now = acting_student(request), clock.now()
    found, kind = access_meeting(user_of(request), meeting_id, now=now), place_kind_of(request)
    leaves = request.POST.get("then") == "leave"
    verb = leave_waiting_list if leaves else join_waiting_list
    act = partial(
        verb, actor=user_of(request), student=student, meeting=found, place_kind=kind, now=now
    )
    done = (
        "You have left the waiting list."
        if leaves
        else "On the waiting list. A freed place is offered to the first in line, by email."
    )
    return _act_as_student(request, found, student, act, done)


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
