"""The practice plan: what to practise today, one tap an item, and the last fourteen days."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from accounts.models import Student
from bookings import clock
from bookings.domain.errors import Refused
from bookings.domain.practising import Step
from bookings.door import write
from bookings.operations.practice import open_practice, tick, untick
from bookings.pages.notes import mentions_pain
from bookings.pages.parameters import read_day, read_id
from bookings.pages.showing import show
from bookings.pages.signed_in import acting_student, family, user_of
from bookings.queries.practice import Practice


@dataclass(frozen=True, slots=True)
class _Day:
    """A day that may be ticked: its steps, and which of them are."""

    name: str
    on: date
    minutes: int
    steps: list[tuple[Step, bool]]


@login_required
@require_GET
def practice(request: HttpRequest) -> HttpResponse:
    """Today's items on the student's clock. The day's first reading is recorded."""
    return _page(request, acting_student(request))


@login_required
@require_POST
def tick_practice(request: HttpRequest) -> HttpResponse:
    """Ticks one item for one day, or takes the tick back."""
    student, now = acting_student(request), clock.now()
    verb: Callable[..., Any] = tick if "tick" in request.POST else untick
    on, _, item = request.POST.get(verb.__name__, "").partition(".")
    named = {
        "student_id": student.pk,
        "assessment_id": read_id(request.POST.get("note")),
        "item": read_id(item),
        "on": read_day(on),
    }
    try:
        write(lambda: verb(actor=user_of(request), now=now, **named), now=now)
    except Refused as refusal:
        if refusal.code == "not-found":
            raise
        return _page(request, student, refusal)
    return redirect(f"{reverse('practice')}#item-{on}.{item}")


def _page(request: HttpRequest, student: Student, refusal: Refused | None = None) -> HttpResponse:
    now = clock.now()
    try:
        shown = write(
            lambda: open_practice(reader=user_of(request), student_id=student.pk, now=now), now=now
        )
    except Refused:
        if student not in family(user_of(request)):
            raise
        shown = None  # a grown child for whom somebody else still books
    context = {
        "student": student,
        "practice": shown,
        "days": _days(shown) if shown else [],
        "cautions": shown is not None and mentions_pain(shown.plan, None),
        "refusal": refusal,
    }
    return show(request, "levare/practice.html", context)


def _days(shown: Practice) -> list[_Day]:
    """The days that may be ticked: today and, if the plan was there already, yesterday."""
    return [
        _Day(
            name,
            on,
            shown.ticked_minutes(on),
            [(step, (on, step.item) in shown.ticked) for step in shown.steps],
        )
        for name, on in zip(("Today", "Yesterday"), shown.tickable, strict=False)
    ]
