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
from bookings.access import access_student
from bookings.domain.errors import Refused
from bookings.domain.policy import cancel_by, in_words
from bookings.domain.slots import Slot
from bookings.domain.timeline import in_utc
from bookings.door import write
from bookings.models import Booking, Offering
from bookings.operations.booking import book_slot
from bookings.pages.acting import acting_student, number, person
from bookings.pages.forms import IntakeForm
from bookings.pages.intakes import beside_saved, is_saved
from bookings.pages.times import read_instant
from bookings.queries.consents import consents_awaited
from bookings.queries.lessons import held_at
from bookings.queries.offerings import open_offering
from bookings.queries.slots import near, slots_for
from bookings.queries.teaching import instructors_for, policy_in_force, zone_of_hours


@dataclass(frozen=True, slots=True)
class Wish:
    """The start a booking page is about."""

    student: Student
    offering: Offering
    instructor: Instructor
    starts_at: datetime

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


def as_value(instructor_id: int, starts_at: datetime) -> str:
    """A start and whose it is, as one form value."""
    return f"{instructor_id}@{in_utc(starts_at).isoformat()}"


@login_required
@require_http_methods(["GET", "POST"])
def book(request: HttpRequest) -> HttpResponse:
    """GET says what would be booked, on both clocks; POST books it. A refusal keeps what was written and names near times."""
    now, wish = clock.now(), read_wish(request)
    if request.method == "GET":
        return _shown(request, wish, now)
    intake = IntakeForm(request.POST)
    page = _page(wish, intake, now)
    if not intake.is_valid():
        return render(request, "book.html", page, status=422)
    try:
        write(
            lambda: book_slot(
                actor=person(request),
                student=wish.student,
                offering=wish.offering,
                instructor=wish.instructor,
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
            page |= {"refusal": refusal, "near": _near(wish, now, refusal)}
            return render(request, "book.html", page, status=refusal.status)
    messages.success(
        request,
        f"Booked: {wish.offering.name} with {wish.instructor}. The invitation is on its way by email.",
    )
    return redirect("my-lessons")


def _shown(request: HttpRequest, wish: Wish, now: datetime) -> HttpResponse:
    """The page before anything is sent: the consent where it is missing, the booking where it stands."""
    for missing in consents_awaited(person(request), [wish.student], now=now):
        if missing.form is None:
            return render(request, "consent_first.html", {"student": wish.student})
        form = reverse("give-consent", kwargs={"guardianship_id": missing.form.pk})
        return redirect(f"{form}?{urlencode({'next': request.get_full_path()})}")
    page = _page(wish, IntakeForm(), now)
    if wish.booking is not None:
        return render(request, "booked.html", {**page, "booking": wish.booking})
    if not _is_offered(wish, now):
        refusal = Refused("taken", "That time is not free any more. Choose another below.")
        page |= {"refusal": refusal, "near": _near(wish, now, refusal)}
    return render(request, "book.html", page)


def _page(wish: Wish, form: IntakeForm, now: datetime) -> dict[str, Any]:
    rules = policy_in_force(now).rules()
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
    instructor_id, starts_at = asked.get("instructor", ""), asked.get("starts_at", "")
    if asked.get("start"):
        instructor_id, _, starts_at = asked["start"].partition("@")
    student = (
        access_student(person(request), number(asked["student"]), now=clock.now())
        if asked.get("student")
        else acting_student(request)
    )
    offering = open_offering(number(asked.get("offering")))
    people = instructors_for(offering, student.level, number(instructor_id)) if offering else []
    if offering is None or not people:
        raise Refused("not-found", "This time is not offered. Choose one under Times that suit.")
    return Wish(student, offering, people[0], read_instant(starts_at))


def _is_offered(wish: Wish, now: datetime) -> bool:
    found = slots_for(
        offering=wish.offering,
        student=wish.student,
        since=wish.starts_at,
        until=wish.starts_at + timedelta(minutes=5),
        now=now,
        instructor_id=wish.instructor.pk,
    )
    return any(slot.starts_at == wish.starts_at for slot in found.slots)


def _near(wish: Wish, now: datetime, refusal: Refused) -> list[dict[str, Any]]:
    """Free times nearby; none where another time would be refused as well."""
    if refusal.code == "consent-missing":
        return []
    found = near(
        offering=wish.offering,
        student=wish.student,
        starts_at=wish.starts_at,
        now=now,
        instructor_id=wish.instructor.pk,
    )
    return [_near_row(slot, found.instructors[slot.instructor_id]) for slot in found.slots]


def _near_row(slot: Slot, instructor: Instructor) -> dict[str, Any]:
    value = as_value(instructor.pk, slot.starts_at)
    return {
        "slot": slot,
        "instructor": instructor,
        "their_zone": zone_of_hours(instructor),
        "value": value,
    }
