"""Times that suit."""

from datetime import date, datetime
from typing import Any
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from bookings import clock
from bookings.domain.errors import Refused
from bookings.domain.timeline import in_calendar
from bookings.pages.acting import acting_student
from bookings.pages.forms import TimesForm
from bookings.pages.week import week_of_times


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
