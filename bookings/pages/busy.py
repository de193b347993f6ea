"""Busy calendars: foreign calendars that say when a person is busy, and what clashes."""

from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from accounts.models import Instructor, Student
from bookings import clock
from bookings.access import access_busy_calendar, access_busy_person
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.inbound.addresses import read_address
from bookings.inbound.expanding import MOST_BYTES
from bookings.models import BusyCalendar, Meeting
from bookings.operations.busy import (
    MOST_CALENDARS,
    add_address,
    add_file,
    ask_again,
    remove_calendar,
)
from bookings.operations.busy_reading import read_file
from bookings.pages.confirmation import Question, confirmation_page
from bookings.pages.decorators import takes_file, throttled
from bookings.pages.forms.busy import BusyForm
from bookings.pages.parameters import read_id
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.queries.busy import (
    Person,
    calendars_of,
    calendars_of_each,
    clashing_bookings_of_each,
    clashing_meetings,
    zone_of,
)


def section(whose: Person, *, is_own: bool = True, form: BusyForm | None = None) -> dict[str, Any]:
    """The context of `_busy.html` for one person.

    An admin who looks at an instructor's hours (not `is_own`) sees the clashes only.
    """
    if isinstance(whose, Student):
        return sections([whose], form=form)[0]
    calendars = list(calendars_of(whose)) if is_own else []
    meetings = clashing_meetings(whose, clock.now())
    return _section(whose, calendars, meetings, is_own=is_own, form=form)


def sections(students: list[Student], *, form: BusyForm | None = None) -> list[dict[str, Any]]:
    """The same for each of these students, in two queries."""
    calendars = calendars_of_each(students)
    bookings = clashing_bookings_of_each(students, clock.now())
    return [
        _section(
            student,
            calendars[student.pk],
            [booking.meeting for booking in bookings[student.pk]],
            form=form,
        )
        for student in students
    ]


def _section(
    whose: Person,
    calendars: list[BusyCalendar],
    meetings: list[Meeting],
    *,
    is_own: bool = True,
    form: BusyForm | None = None,
) -> dict[str, Any]:
    return {
        "whose": whose,
        "student": None if isinstance(whose, Instructor) else whose,
        "is_own": is_own,
        "calendars": calendars,
        "clashes": meetings,
        "zone": zone_of(whose),
        "form": None
        if not is_own or len(calendars) >= MOST_CALENDARS
        else form or BusyForm(prefix=_prefix(whose), initial={"once": uuid4()}),
        "most": MOST_CALENDARS,
    }


@takes_file(MOST_BYTES)
@login_required
@require_http_methods(["GET", "POST"])
@throttled("busy-calendars")
def busy_calendars(request: HttpRequest) -> HttpResponse:
    """One person's other calendars; POST adds one."""
    whose = _whose(request)
    if request.method == "GET":
        return render(request, "levare/busy.html", {"busy": section(whose)})
    form = BusyForm(request.POST, request.FILES, prefix=_prefix(whose))
    if not form.is_valid():
        return render(request, "levare/busy.html", {"busy": section(whose, form=form)}, status=422)
    try:
        _add(request, whose, form.cleaned_data)
    except Refused as refusal:
        if refusal.code == "already-done":  # the same form once more
            return _back(whose)
        context = {"busy": section(whose, form=form), "refusal": refusal}
        response = show(request, "levare/busy.html", context)
        if "retry_after" in refusal.data:
            response.headers["Retry-After"] = str(refusal.data["retry_after"])
        return response
    messages.success(request, "Added. Times that it calls busy are not offered any more.")
    return _back(whose)


@login_required
@require_http_methods(["GET", "POST"])
def remove_busy(request: HttpRequest, calendar_id: int) -> HttpResponse:
    """Asks once; then the calendar goes, and its busy time with it."""
    now = clock.now()
    calendar = access_busy_calendar(user_of(request), calendar_id, now=now)
    if request.method == "GET":
        question = Question(
            f"Remove {calendar.name}?",
            [
                "Times that only this calendar calls busy are offered again at once.",
                "Lessons stay booked, and nothing changes in the calendar itself.",
            ],
            "Remove the calendar",
            reverse(_home(request, calendar)),
        )
        return confirmation_page(request, question)
    write(lambda: remove_calendar(actor=user_of(request), calendar=calendar, now=now), now=now)
    messages.success(request, f"Removed: {calendar.name}. Its times no longer count as busy.")
    return redirect(_home(request, calendar))


@login_required
@require_POST
@throttled("busy-calendars")
def refresh_busy(request: HttpRequest, calendar_id: int) -> HttpResponse:
    """Read it again soon."""
    now = clock.now()
    calendar = access_busy_calendar(user_of(request), calendar_id, now=now)
    try:
        write(lambda: ask_again(actor=user_of(request), calendar=calendar, now=now), now=now)
    except Refused as refusal:
        messages.warning(request, refusal.detail)
    else:
        messages.success(request, f"{calendar.name} will be read again within a minute.")
    return redirect(_home(request, calendar))


def _prefix(whose: Person) -> str:
    """A page may hold the forms of several children."""
    return "busy" if isinstance(whose, Instructor) else f"busy{whose.pk}"


def _whose(request: HttpRequest) -> Person:
    named = request.POST.get("student") or request.GET.get("student")
    return access_busy_person(
        user_of(request), student_id=read_id(named) if named else None, now=clock.now()
    )


def _add(request: HttpRequest, whose: Person, values: dict[str, Any]) -> None:
    actor, now = user_of(request), clock.now()
    if values["address"]:
        address = read_address(values["address"])
        write(
            lambda: add_address(
                actor=actor,
                person=whose,
                name=values["name"],
                address=address.text,
                host=address.host,
                once=values["once"],
                now=now,
            ),
            now=now,
        )
        return
    copy = read_file(
        values["file"].read(), whose, now, actor=actor
    )  # before the transaction: it takes a process and its time
    write(
        lambda: add_file(
            actor=actor, person=whose, name=values["name"], copy=copy, once=values["once"], now=now
        ),
        now=now,
    )


def _back(whose: Person) -> HttpResponse:
    return redirect("hours" if isinstance(whose, Instructor) else "me")


def _home(request: HttpRequest, calendar: BusyCalendar) -> str:
    own = (
        access_busy_person(user_of(request), now=clock.now())
        if calendar.owner_id == user_of(request).pk
        else None
    )
    return "hours" if isinstance(own, Instructor) else "me"
