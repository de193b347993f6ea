"""Booking one start: the page that says what would be booked, and the booking itself."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from accounts.models import Instructor, Student
from bookings import clock
from bookings.domain.errors import Refused
from bookings.domain.policy import Policy, cancel_by, in_words
from bookings.domain.slots import Slot
from bookings.door import write
from bookings.models import Booking, Offering
from bookings.operations.first_look import book_start
from bookings.pages.acting import (
    acting_student,
    consents_missing,
    family,
    named_student,
    number,
    person,
)
from bookings.pages.forms import IntakeForm
from bookings.pages.intakes import beside_saved, is_saved
from bookings.pages.starts import as_value, read_start
from bookings.queries.consents import has_consent
from bookings.queries.lessons import held_at
from bookings.queries.policies import policy_in_force
from bookings.queries.slots import Found, StartRefused, near, slots_for
from bookings.queries.teaching import zone_of_hours
from bookings.queries.times import check_open, taught_to

_AT_ANY_TIME = {"allowance-used", "consent-missing"}
"""Refusals that hold whatever the time: no other start is put forward."""


@dataclass(frozen=True, slots=True)
class Wish:
    """The start a booking page is about."""

    student: Student
    offering: Offering
    instructor: Instructor
    starts_at: datetime
    people: list[Instructor]
    """All who teach the offering to this student."""

    @property
    def ends_at(self) -> datetime:
        return self.starts_at + timedelta(minutes=self.offering.minutes)

    @property
    def their_zone(self) -> str:
        return zone_of_hours(self.instructor)

    @property
    def booking(self) -> Booking | None:
        """The student's own booking of this very start, if it stands."""
        return held_at(self.student, self.offering, self.instructor, self.starts_at)


@login_required
@require_http_methods(["GET", "POST"])
def book(request: HttpRequest) -> HttpResponse:
    """GET says what would be booked, on both clocks; POST books it.

    A refusal keeps what was written and names near times.
    """
    now, wish = clock.now(), read_wish(request)
    rules = policy_in_force(now).rules()
    if request.method == "GET":
        return _shown(request, wish, rules, now)
    intake = IntakeForm(request.POST)
    page = _page(wish, intake, rules, now)
    if not intake.is_valid():
        return render(request, "book.html", page, status=422)
    try:
        write(
            lambda: book_start(
                actor=person(request),
                student=wish.student,
                offering=wish.offering,
                instructor_id=wish.instructor.pk,
                starts_at=wish.starts_at,
                intake=intake.text(),
                now=now,
            ),
            now=now,
        )
    except Refused as refusal:
        booking = wish.booking
        if booking is not None and not is_saved(booking, intake):
            return beside_saved(request, booking, intake)
        if booking is None:
            page |= _refused(wish, refusal, rules, now)
            return render(request, "book.html", page, status=refusal.status)
    messages.success(
        request,
        f"Booked: {wish.offering.name} with {wish.instructor}. "
        "The invitation is on its way by email.",
    )
    return redirect("my-lessons")


def _shown(request: HttpRequest, wish: Wish, rules: Policy, now: datetime) -> HttpResponse:
    """The page before anything is sent.

    The consent comes first where it is missing. A booking that stands is shown as such.
    """
    first = _consent_first(request, wish.student, now)
    if first is not None:
        return first
    page = _page(wish, IntakeForm(), rules, now)
    found = _at_that_start(wish, rules, now)
    # Only where the student has something at that start can it be this very booking.
    is_held = any(held.starts_at == wish.starts_at for held in found.student.meetings)
    if is_held and (booking := wish.booking) is not None:
        return render(request, "booked.html", {**page, "booking": booking})
    try:
        check_open(wish.student, wish.offering, rules, now=now)
        _check_free(wish, found)
    except Refused as refusal:
        page |= _refused(wish, refusal, rules, now)
    else:
        page["others"] = _others(wish, found)
    return render(request, "book.html", page)


def _consent_first(request: HttpRequest, student: Student, now: datetime) -> HttpResponse | None:
    """What comes before the booking where the student's consent is missing; None where it is not."""
    user = person(request)
    if student in family(user):
        awaited = [one for one in consents_missing(user) if one.student == student]
        if not awaited:
            return None
        if awaited[0].form_id is not None:
            form = reverse("give-consent", kwargs={"guardianship_id": awaited[0].form_id})
            return redirect(f"{form}?{urlencode({'next': request.get_full_path()})}")
    elif not student.is_active or has_consent(student, now=now):
        return None
    return render(request, "consent_first.html", {"student": student})


def _page(wish: Wish, form: IntakeForm, rules: Policy, now: datetime) -> dict[str, Any]:
    until = cancel_by(rules, wish.starts_at)
    return {
        "wish": wish,
        "student": wish.student,
        "form": form,
        "cancel_by": until,
        "in_time": now <= until,
        "notice": in_words(rules.notice_minutes),
    }


def read_wish(request: HttpRequest) -> Wish:
    """From the address, or from the radio button chosen after a refusal; Refused where it makes no sense."""
    asked = request.POST if request.method == "POST" else request.GET
    instructor_id, starts_at = read_start(asked)
    student = (
        named_student(person(request), number(asked["student"]))
        if asked.get("student")
        else acting_student(request)
    )
    taught = taught_to(student)
    offering = taught.offering(number(asked.get("offering")))
    instructor = taught.instructor(offering, instructor_id)
    if offering is None or instructor is None:
        raise Refused("not-found", "This time is not offered. Choose one under Times that suit.")
    people = taught.instructors[offering.pk]
    return Wish(student, offering, instructor, starts_at, people)


def _at_that_start(wish: Wish, rules: Policy, now: datetime) -> Found:
    """Everybody who could be booked then."""
    return slots_for(
        offering=wish.offering,
        student=wish.student,
        since=wish.starts_at,
        until=wish.starts_at + timedelta(minutes=5),
        now=now,
        people=wish.people,
        policy=rules,
    )


def _check_free(wish: Wish, found: Found) -> None:
    if (wish.starts_at, wish.instructor.pk) not in {
        (slot.starts_at, slot.instructor_id) for slot in found.slots
    }:
        raise Refused("taken", "That time is not free any more. Choose another below.")


def _others(wish: Wish, found: Found) -> list[dict[str, Any]]:
    """Who else could be booked at the same start."""
    return [
        _row(slot, found.instructors[slot.instructor_id])
        for slot in found.slots
        if slot.starts_at == wish.starts_at and slot.instructor_id != wish.instructor.pk
    ]


def _refused(wish: Wish, refusal: Refused, rules: Policy, now: datetime) -> dict[str, Any]:
    """The refusal and three near starts, where another time would help."""
    if refusal.code in _AT_ANY_TIME:
        return {"refusal": refusal, "is_final": True}
    found = refusal.around if isinstance(refusal, StartRefused) else _near(wish, rules, now)
    rows = [_row(slot, found.instructors[slot.instructor_id]) for slot in found.slots]
    return {"refusal": refusal, "near": rows}


def _near(wish: Wish, rules: Policy, now: datetime) -> Found:
    return near(
        offering=wish.offering,
        student=wish.student,
        starts_at=wish.starts_at,
        now=now,
        instructor_id=wish.instructor.pk,
        people=wish.people,
        policy=rules,
    )


def _row(slot: Slot, instructor: Instructor) -> dict[str, Any]:
    return {
        "slot": slot,
        "instructor": instructor,
        "their_zone": zone_of_hours(instructor),
        "value": as_value(slot),
    }
