"""Booking one start: the page that says what would be booked, and the booking itself."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from accounts.models import Student
from bookings import clock
from bookings.domain.errors import Refused
from bookings.domain.policy import Policy, cancel_by, in_words
from bookings.domain.proposed_times import decline_by, without_lead
from bookings.domain.slots import Slot
from bookings.domain.timeline import Period
from bookings.door import write
from bookings.operations.first_look import book_start
from bookings.pages.asking_again import NOTHING_ASKED, asked_again_of
from bookings.pages.forms.intakes import IntakeForm
from bookings.pages.intakes import beside_saved, is_saved
from bookings.pages.making_up import owed_named
from bookings.pages.parameters import read_id, read_start, start_value
from bookings.pages.signed_in import (
    books_for_school,
    consents_missing,
    family,
    student_to_book,
    user_of,
)
from bookings.queries.consents import has_consent
from bookings.queries.lessons import held_at
from bookings.queries.policies import policy_in_force
from bookings.queries.slots import StartRefused
from bookings.queries.starts import WantedStart, look_at_start, near_start
from bookings.queries.teaching import zone_of_hours
from bookings.queries.times import taught_to

_AT_ANY_TIME = {"allowance-used", "consent-missing"}
"""Refusals that hold whatever the time: no other start is put forward."""


@login_required
@require_http_methods(["GET", "POST"])
def book(request: HttpRequest) -> HttpResponse:
    """GET says what would be booked, on both clocks; POST books it.

    A refusal keeps what was written and names near times.
    """
    now, wanted = clock.now(), _read_wanted(request)
    rules = _rules(wanted, now)
    if request.method == "GET":
        return _shown(request, wanted, rules, now)
    for_family = wanted.student in family(user_of(request))
    intake = IntakeForm(request.POST, for_family=for_family)
    context = _context(request, wanted, intake, rules, now)
    if context["not_ticked"] or not intake.is_valid():
        return render(request, "levare/book.html", context, status=422)
    try:
        write(
            lambda: book_start(
                actor=user_of(request),
                student=wanted.student,
                offering=wanted.offering,
                instructor_id=wanted.instructor.pk,
                starts_at=wanted.starts_at,
                intake=intake.text(),
                owed=wanted.owed,
                now=now,
            ),
            now=now,
        )
    except Refused as refusal:
        booking = held_at(wanted.student, wanted.offering, wanted.instructor, wanted.starts_at)
        if booking is not None and not is_saved(request, booking, intake):
            return beside_saved(request, booking, intake)
        if booking is None:
            context |= _refused_context(refusal, _near(refusal, wanted, rules, now), wanted)
            return render(request, "levare/book.html", context, status=refusal.status)
    what = f"{wanted.offering.name} with {wanted.instructor}"
    messages.success(request, f"Booked: {what}. The invitation is on its way by email.")
    return redirect("my-students" if context["is_instructor"] else "my-lessons")


def _rules(wanted: WantedStart, now: datetime) -> Policy:
    """The policy in force, as it binds whoever books."""
    rules = policy_in_force(now).rules()
    return without_lead(rules) if wanted.by_school else rules


def _shown(request: HttpRequest, wanted: WantedStart, rules: Policy, now: datetime) -> HttpResponse:
    """The page before anything is sent.

    The consent comes first where it is missing. A booking that stands is shown as such.
    """
    first = _consent_first(request, wanted.student, now)
    if first is not None:
        return first
    form = IntakeForm(for_family=wanted.student in family(user_of(request)))
    context = _context(request, wanted, form, rules, now)
    found = look_at_start(wanted, rules, now=now)
    if found.booking is not None:
        return render(request, "levare/booked.html", {**context, "booking": found.booking})
    if found.refusal is not None:
        context |= _refused_context(found.refusal, found.near, wanted)
    context["others"] = _rows(found.others, wanted)
    return render(request, "levare/book.html", context)


def _consent_first(request: HttpRequest, student: Student, now: datetime) -> HttpResponse | None:
    """The page that asks for a missing consent; None if none is missing."""
    user = user_of(request)
    if student in family(user):
        awaited = [one for one in consents_missing(user) if one.student == student]
        if not awaited:
            return None
        if awaited[0].form_id is not None:
            form = reverse("give-consent", kwargs={"guardianship_id": awaited[0].form_id})
            return redirect(f"{form}?{urlencode({'next': request.get_full_path()})}")
    elif not student.is_active or has_consent(student, now=now):
        return None
    return render(request, "levare/consent_first.html", {"student": student})


def _context(
    request: HttpRequest, wanted: WantedStart, form: IntakeForm, rules: Policy, now: datetime
) -> dict[str, Any]:
    period = Period(wanted.starts_at, wanted.ends_at)
    until = cancel_by(rules, wanted.starts_at)
    is_instructor = wanted.by_school and not user_of(request).is_staff
    here, there = wanted.student.zone, zone_of_hours(wanted.instructor)
    if is_instructor:
        here, there = there, here
    return {
        "wanted": wanted,
        "student": wanted.student,
        "here": here,
        "there": there,
        "is_instructor": is_instructor,
        "decline_by": decline_by(now, wanted.starts_at) if wanted.by_school else None,
        "form": form,
        "cancel_by": until,
        "in_time": now <= until,
        "notice": in_words(rules.notice_minutes),
        **(NOTHING_ASKED if is_instructor else asked_again_of(request, wanted.student, period)),
    }


def _read_wanted(request: HttpRequest) -> WantedStart:
    """The start named in the address, or chosen in the form after a refusal.

    Refused("not-found") if it is not offered, "malformed" if it is no time.
    """
    asked = request.POST if request.method == "POST" else request.GET
    instructor_id, starts_at = read_start(asked)
    student = student_to_book(request, instructor_id)
    taught = taught_to(student)
    offering = taught.offering(read_id(asked.get("offering")))
    instructor = taught.instructor(offering, instructor_id)
    if offering is None or instructor is None:
        raise Refused("not-found", "This time is not offered. Choose one under Times that suit.")
    user, people = user_of(request), taught.instructors[offering.pk]
    by_school = books_for_school(user, student)
    if by_school and not user.is_staff:
        people = [instructor]  # who books for nobody's hours but their own
    owed = owed_named(request, student)
    return WantedStart(student, offering, instructor, starts_at, people, by_school, owed)


def _near(refusal: Refused, wanted: WantedStart, rules: Policy, now: datetime) -> Sequence[Slot]:
    """The near starts after a refusal. The first look has read them where it refuses."""
    if refusal.code in _AT_ANY_TIME:
        return []
    if isinstance(refusal, StartRefused):
        return refusal.around.slots
    return near_start(wanted, rules, now=now)


def _refused_context(refusal: Refused, near: Sequence[Slot], wanted: WantedStart) -> dict[str, Any]:
    """The refusal, and the near starts to choose from if another time would help."""
    if refusal.code in _AT_ANY_TIME:
        return {"refusal": refusal, "is_final": True}
    return {"refusal": refusal, "near": _rows(near, wanted)}


def _rows(slots: Sequence[Slot], wanted: WantedStart) -> list[dict[str, Any]]:
    instructors = {person.pk: person for person in wanted.people}
    return [
        {
            "slot": slot,
            "instructor": instructors[slot.instructor_id],
            "their_zone": zone_of_hours(instructors[slot.instructor_id]),
            "value": start_value(slot),
        }
        for slot in slots
    ]
