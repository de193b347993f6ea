"""Meetings: those one runs, with roster, register and waiting list; and group meetings a student may join."""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping
from datetime import datetime, timedelta
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST

from accounts.models import Student
from bookings import clock
from bookings.access import ONE_ON_ONE, access_meeting, may_run
from bookings.domain.errors import Refused
from bookings.domain.policy import is_first_yes
from bookings.domain.vocabulary import MeetingStatus, PlaceKind
from bookings.door import write
from bookings.models import LIVE, Booking, Meeting, WaitingPlace
from bookings.operations.places import book_place
from bookings.operations.waiting import join_waiting_list, leave_waiting_list
from bookings.pages.acting import acting_student, family, person
from bookings.pages.roster import as_run, place_kind_of, show_roster, with_people
from bookings.queries.waiting import announced, ranked, waiting_in

A_PAGE = 50
STILL_SHOWN = timedelta(days=14)  # after its end, so that the register can be marked


@login_required
@require_GET
def meetings(request: HttpRequest) -> HttpResponse:
    """The meetings one runs, and the group meetings open to the student one acts for."""
    user, now = person(request), clock.now()
    page: dict[str, Any] = {"runs": [], "student": None}
    taught = Meeting.objects.filter(ends_at__gt=now - STILL_SHOWN)
    if not user.is_staff:
        taught = taught.filter(instructor__user=user, instructor__is_active=True)
    shown = Paginator(with_people(taught), A_PAGE).get_page(request.GET.get("page"))
    page |= {"runs": [as_run(meeting, user, now) for meeting in shown], "shown": shown}
    if family(user):
        student = acting_student(request)
        open_to_all = (
            Meeting.objects.filter(starts_at__gt=now)
            .exclude(status=MeetingStatus.CANCELLED)
            .exclude(offering__kind__in=ONE_ON_ONE)
        )
        page |= {
            "student": student,
            "group": _as_joined(
                open_to_all.select_related("offering", "instructor__user"), student, now
            ),
        }
    return render(request, "meetings.html", page)


def _as_joined(rows: Iterable[Meeting], student: Student, now: datetime) -> list[dict[str, Any]]:
    """Group meetings as one student sees them: her own place or rank, and how many places are left. Three queries."""
    meetings = list(rows)
    live = Booking.objects.filter(meeting__in=meetings, student=student, standing__in=LIVE)
    hers = {(booking.meeting_id, booking.place_kind): booking for booking in live}
    lines: dict[tuple[int, str], list[WaitingPlace]] = defaultdict(list)
    for waiting in ranked(waiting_in(meetings)):
        lines[waiting.meeting_id, waiting.place_kind].append(waiting)
    told = announced(meetings)
    return [
        {"meeting": meeting, "kinds": _kinds(meeting, student, hers, lines, told, now)}
        for meeting in meetings
    ]


def _kinds(
    meeting: Meeting,
    student: Student,
    hers: Mapping[tuple[int, str], Booking],
    lines: Mapping[tuple[int, str], list[WaitingPlace]],
    told: Collection[tuple[int, str]],
    now: datetime,
) -> list[dict[str, Any]]:
    both = (
        (PlaceKind.PLAYER, meeting.places, meeting.taken),
        (PlaceKind.LISTENER, meeting.listener_places, meeting.listeners_taken),
    )
    kinds = []
    for kind, places, taken in both:
        at = (meeting.pk, kind.value)
        line = lines.get(at, [])
        first_yes = bool(line) and (
            at in told or is_first_yes(now, meeting.starts_at, [one.student.zone for one in line])
        )
        kinds.append(
            {
                "kind": kind.value,
                "name": kind.value if meeting.listener_places else "",
                "places": places,
                "left": places - taken,
                "is_free": taken < places and (not line or first_yes),
                "first_yes": taken < places and first_yes,
                "booking": hers.get(at),
                "rank": next((one.rank for one in line if one.student_id == student.pk), None),
            }
        )
    return [kind for kind in kinds if kind["places"]]


@login_required
@require_GET
def meeting(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """The roster to those who run it; a group meeting's page to a student."""
    user, now = person(request), clock.now()
    found = access_meeting(user, meeting_id, now=now)
    if may_run(user, found):
        return show_roster(request, found)
    if found.offering.is_one_on_one:
        return redirect("my-lessons")
    student = acting_student(request)
    return render(
        request, "group_meeting.html", {**_as_joined([found], student, now)[0], "student": student}
    )


@login_required
@require_POST
def take_place(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """A place in a group meeting for the student one acts for."""
    student, now = acting_student(request), clock.now()
    found, kind = access_meeting(person(request), meeting_id, now=now), place_kind_of(request)
    act = lambda: book_place(  # noqa: E731
        actor=person(request), student=student, meeting=found, place_kind=kind, now=now
    )
    return _act_as_student(
        request, found, student, act, "Booked. The invitation is on its way by email."
    )


@login_required
@require_POST
def waiting_list(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """Joins the line, or leaves it."""
    student, now = acting_student(request), clock.now()
    found, kind = access_meeting(person(request), meeting_id, now=now), place_kind_of(request)
    leaves = request.POST.get("then") == "leave"
    verb = leave_waiting_list if leaves else join_waiting_list
    act = lambda: verb(  # noqa: E731
        actor=person(request), student=student, meeting=found, place_kind=kind, now=now
    )
    done = (
        "You have left the waiting list."
        if leaves
        else "On the waiting list. A freed place is offered to the first in line, by mail."
    )
    return _act_as_student(request, found, student, act, done)


def _act_as_student(
    request: HttpRequest, found: Meeting, student: Student, act: Callable[[], object], done: str
) -> HttpResponse:
    now = clock.now()
    try:
        write(act, now=now)
    except Refused as refusal:
        found = access_meeting(person(request), found.pk, now=now)
        page = {**_as_joined([found], student, now)[0], "student": student, "refusal": refusal}
        return render(request, "group_meeting.html", page, status=refusal.status)
    messages.success(request, done)
    return redirect("meetings")
