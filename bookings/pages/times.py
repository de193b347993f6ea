"""Times that suit, and booking one of them."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from accounts.models import Instructor, Student
from bookings import clock
from bookings.access import access_student
from bookings.domain.errors import Refused
from bookings.domain.policy import cancel_by
from bookings.domain.slots import Slot
from bookings.domain.timeline import in_calendar, in_utc
from bookings.domain.vocabulary import Standing
from bookings.door import write
from bookings.models import Booking, Offering
from bookings.operations.booking import book_slot
from bookings.pages.acting import acting_student, number, person
from bookings.pages.forms import IntakeForm, TimesForm
from bookings.pages.week import week_of_times
from bookings.queries.policies import policy_in_force
from bookings.queries.slots import near, slots_for
from bookings.queries.teaching import instructors_for, zone_of_hours


@login_required
@require_GET
def times(request: HttpRequest) -> HttpResponse:
    """Seven days of starts on the student's clock, with the instructor's below."""
    student, now = acting_student(request), clock.now()
    form = TimesForm(request.GET, student=student)
    asked = form.cleaned_data if form.is_valid() else {}
    offering = asked.get("offering") or form.offerings.first()
    page: dict[str, Any] = {
        "form": form,
        "student": student,
        "offering": offering,
        "instructor": asked.get("instructor"),
    }
    if offering is not None:
        page["week"] = week = week_of_times(
            student=student, offering=offering, asked=asked, book_at="/times/book/", now=now
        )
        page["more"] = {
            name: _again(request, on)
            for name, on in (("earlier", week.earlier), ("later", week.later))
            if on
        }
    return render(request, "times.html", page, status=422 if form.errors else 200)


def _again(request: HttpRequest, on: date) -> str:
    """The same search from another day."""
    kept = {
        name: request.GET[name]
        for name in ("offering", "instructor", "earliest", "latest")
        if request.GET.get(name)
    }
    return urlencode({**kept, "since": on.isoformat()})


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


def as_value(instructor_id: int, starts_at: datetime) -> str:
    """A start and whose it is, as one form value."""
    return f"{instructor_id}@{in_utc(starts_at).isoformat()}"


@login_required
@require_http_methods(["GET", "POST"])
def book(request: HttpRequest) -> HttpResponse:
    """GET says what would be booked, on both clocks; POST books it. A refusal keeps what was written and names near times."""
    now = clock.now()
    wish = read_wish(request)
    intake = IntakeForm(request.POST or None)
    page = {
        "wish": wish,
        "student": wish.student,
        "form": intake,
        "cancel_by": cancel_by(policy_in_force(now).rules(), wish.starts_at),
    }
    if request.method == "GET":
        free = _is_offered(wish, now)
        refusal = (
            None
            if free
            else Refused("taken", "That time is not free any more. Choose another below.")
        )
        return render(
            request,
            "book.html",
            {**page, "refusal": refusal, "near": [] if free else _near(wish, now)},
        )
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
        if not _is_booked_already(wish):
            return render(
                request,
                "book.html",
                {**page, "refusal": refusal, "near": _near(wish, now)},
                status=refusal.status,
            )
    messages.success(
        request,
        f"Booked: {wish.offering.name} with {wish.instructor}. The invitation is on its way by email.",
    )
    return redirect("my-lessons")


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
    offering = Offering.objects.filter(pk=number(asked.get("offering")), is_open=True).first()
    people = instructors_for(offering, student.level, number(instructor_id)) if offering else []
    if offering is None or not people:
        raise Refused("not-found", "This time is not offered. Choose one under Times that suit.")
    return Wish(student, offering, people[0], read_instant(starts_at))


def read_instant(text: str) -> datetime:
    """An instant from an address; Refused("naive-time") without an offset, "invalid" outside the
    calendar."""
    try:
        return in_calendar(
            datetime.fromisoformat(text.replace(" ", "+"))
        )  # a "+" in an address reads as a space
    except ValueError:
        raise Refused(
            "malformed", "This address holds no time. Choose one under Times that suit."
        ) from None


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


def _near(wish: Wish, now: datetime) -> list[dict[str, Any]]:
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


def _is_booked_already(wish: Wish) -> bool:
    """Whether this very booking stands: a form sent twice books once and says so twice."""
    return Booking.objects.filter(
        student=wish.student,
        standing=Standing.HELD,
        starts_at=wish.starts_at,
        meeting__offering=wish.offering,
        meeting__instructor=wish.instructor,
    ).exists()
