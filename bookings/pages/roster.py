"""The roster of a meeting, for those who run it: who is in, who waits, who came; adding, removing, calling off, making one."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db.models import Prefetch, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from accounts.models import Student, User
from bookings import clock
from bookings.access import (
    access_booking,
    access_meeting,
    access_student,
    access_taught_meeting,
    name_for,
    require_admin,
)
from bookings.domain.errors import Refused
from bookings.domain.hours import resolve_once
from bookings.domain.vocabulary import Attendance, PlaceKind
from bookings.door import write
from bookings.models import LIVE, Booking, Meeting
from bookings.operations import calling_off
from bookings.operations import meetings as acts
from bookings.operations.places import book_place, leave_place
from bookings.operations.register import mark_register
from bookings.operations.reinstating import can_return
from bookings.pages.acting import number, person, version_of
from bookings.pages.fields import PlainText
from bookings.pages.forms import MeetingForm
from bookings.queries.teaching import zone_of_hours
from bookings.queries.waiting import ranked, waiting_in


def with_people(rows: QuerySet[Meeting]) -> QuerySet[Meeting]:
    live = (
        Booking.objects.filter(standing__in=LIVE)
        .select_related("student__user", "mark")
        .order_by("booked_at", "id")
    )
    return rows.select_related("offering", "instructor__user").prefetch_related(
        Prefetch("bookings", queryset=live, to_attr="live")
    )


def as_run(meeting: Meeting, user: User, now: datetime) -> dict[str, Any]:
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
    user, now = person(request), clock.now()
    row = as_run(with_people(Meeting.objects.filter(pk=found.pk)).get(), user, now)
    page = {
        **row,
        "held": [entry for entry in row["people"] if entry["booking"].standing == "HELD"],
        "offered": [entry for entry in row["people"] if entry["booking"].standing == "OFFERED"],
        "waiting": [
            {"waiting": one, "name": name_for(user, one.student, now)}
            for one in ranked(waiting_in([found]))
        ],
        "attendances": [attendance.value for attendance in Attendance],
        "students": Student.objects.filter(is_active=True).select_related("user")
        if user.is_staff
        else [],
        "can_return": can_return(found, now=now),
        "refusal": refusal,
    }
    return render(request, "roster.html", page, status=refusal.status if refusal else 200)


def _act_on_roster(
    request: HttpRequest, found: Meeting, act: Callable[[], object], done: str
) -> HttpResponse:
    """One operation from the roster page; a refusal is said on that page."""
    try:
        write(act, now=clock.now())
    except Refused as refusal:
        return show_roster(request, found, refusal)
    messages.success(request, done)
    return redirect("meeting", meeting_id=found.pk)


@login_required
@require_POST
def register(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """Who came."""
    now = clock.now()
    found = access_taught_meeting(person(request), meeting_id, now=now)
    known = {attendance.value for attendance in Attendance}
    marked = {
        name.removeprefix("mark-"): value
        for name, value in request.POST.items()
        if name.startswith("mark-")
    }
    marks = {number(pk): Attendance(value) for pk, value in marked.items() if value in known}
    version = version_of(request)
    return _act_on_roster(
        request,
        found,
        lambda: mark_register(
            actor=person(request), meeting=found, marks=marks, version=version, now=now
        ),
        "Register kept.",
    )


@login_required
@require_POST
def change_roster(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """An admin adds or removes somebody, with a reason."""
    user, now = person(request), clock.now()
    require_admin(user)
    found, version = access_meeting(user, meeting_id, now=now), version_of(request)
    reason = _line(request, "reason")
    if not reason:
        return show_roster(
            request,
            found,
            Refused("invalid", "Say why: the reason is kept with the change.", field="reason"),
        )
    if request.POST.get("booking"):
        booking = access_booking(user, number(request.POST["booking"]), now=now)
        if booking.meeting_id != found.pk:
            raise Refused("not-found", "There is nothing at this address that you may see.")

        def remove() -> Booking:
            return leave_place(
                actor=user, booking=booking, meeting_version=version, reason=reason, now=now
            )

        return _act_on_roster(request, found, remove, "Removed.")
    student = access_student(user, number(request.POST.get("who")), now=now)
    kind, ahead = place_kind_of(request), request.POST.get("ahead") == "yes"
    seen = (
        version if ahead else None
    )  # who passes over those who wait has to have seen them; a free place is free

    def add() -> Booking:
        return book_place(
            actor=user,
            student=student,
            meeting=found,
            place_kind=kind,
            reason=reason,
            ahead_of_queue=ahead,
            meeting_version=seen,
            now=now,
        )

    return _act_on_roster(request, found, add, "Added.")


@login_required
@require_http_methods(["GET", "POST"])
def call_off(request: HttpRequest, meeting_id: int) -> HttpResponse:
    """GET says who is told; POST calls the meeting off."""
    now = clock.now()
    found = access_taught_meeting(person(request), meeting_id, now=now)
    page = {"meeting": found, "count": found.taken + found.listeners_taken}
    if request.method == "GET":
        return render(request, "call_off.html", page)
    why = _line(request, "why")
    try:
        write(
            lambda: calling_off.call_off(actor=person(request), meeting=found, why=why, now=now),
            now=now,
        )
    except Refused as refusal:
        return render(request, "call_off.html", {**page, "refusal": refusal}, status=refusal.status)
    messages.success(request, "Called off. Everybody booked gets one email.")
    return redirect("meeting", meeting_id=found.pk)


@login_required
@require_http_methods(["GET", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    """An admin makes a group meeting."""
    require_admin(person(request))
    form, now = MeetingForm(request.POST or None), clock.now()
    if request.method == "POST" and form.is_valid():
        values = form.cleaned_data
        try:
            made = write(
                lambda: acts.create_meeting(
                    actor=person(request),
                    offering=values["offering"],
                    instructor=values["instructor"],
                    starts_at=resolve_once(form.wall(), zone_of_hours(values["instructor"])),
                    title=values["title"],
                    places=values["places"],
                    listener_places=values["listener_places"] or 0,
                    join_address=values["join_address"],
                    now=now,
                ),
                now=now,
            )
        except Refused as refusal:
            return render(
                request,
                "new_meeting.html",
                {"form": form, "refusal": refusal},
                status=refusal.status,
            )
        messages.success(request, "Made. It is open for booking.")
        return redirect("meeting", meeting_id=made.pk)
    return render(request, "new_meeting.html", {"form": form}, status=422 if form.errors else 200)


def _line(request: HttpRequest, name: str) -> str:
    """One short line of the form, without control characters."""
    text: str = PlainText(required=False).clean(request.POST.get(name, ""))
    return text.strip()[:200]


def place_kind_of(request: HttpRequest) -> PlaceKind:
    return (
        PlaceKind.LISTENER
        if request.POST.get("as") == PlaceKind.LISTENER.value
        else PlaceKind.PLAYER
    )
