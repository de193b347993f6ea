"""Hours you can come: the student's own week in the family's words, and what it costs by them."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from accounts.models import Student
from bookings import clock
from bookings.domain.errors import Refused
from bookings.domain.hours import WEEKDAYS
from bookings.domain.student_hours import to_confirm
from bookings.door import write
from bookings.operations.student_hours import say_hours
from bookings.pages.forms.student_hours import StudentHoursForm
from bookings.pages.signed_in import acting_student, user_of
from bookings.pages.student_strip import draw_welcome
from bookings.queries.planning.asked_hours import asked_of, is_open
from bookings.queries.student_hours import days_of, presumed_for, said_in, week_of


@login_required
@require_http_methods(["GET", "POST"])
def student_hours(request: HttpRequest) -> HttpResponse:
    """Four lines a weekday under its strip; POST replaces what was said."""
    student, now = acting_student(request), clock.now()
    if request.method == "GET":
        return _page(request, student)
    form = StudentHoursForm(request.POST, windows=(), school=None, version=0)
    if not form.is_valid():
        return _page(request, student, form)
    values = form.cleaned_data
    try:
        write(
            lambda: say_hours(
                actor=user_of(request),
                student=student,
                windows=values["windows"],
                school=values["school"],
                version=values["version"],
                now=now,
            ),
            now=now,
        )
    except Refused as refusal:
        return _page(request, student, form, refusal)
    messages.success(request, "Saved. Times that suit goes by these hours from now on.")
    return redirect(f"{reverse('student-hours')}?student={student.pk}")


def _page(
    request: HttpRequest,
    student: Student,
    form: StudentHoursForm | None = None,
    refusal: Refused | None = None,
) -> HttpResponse:
    now, week = clock.now(), week_of(student)
    said, presumed = said_in(week), presumed_for(week, now=now)
    if form is None:
        shown = to_confirm(said, presumed)
        form = StudentHoursForm(windows=shown.windows, school=shown.school, version=week.version)
    context: dict[str, Any] = {
        "student": student,
        "week": week,
        "form": form,
        "presumed": presumed,
        "days": [
            (name, draw_welcome(day), form.day(weekday))
            for weekday, (name, day) in enumerate(
                zip(WEEKDAYS, days_of(week, now=now), strict=True)
            )
        ],
        "asked": [(one, is_open(one, now)) for one in asked_of(student)],
        "refusal": refusal,
    }
    status = refusal.status if refusal else 422 if form.errors else 200
    return render(request, "levare/student_hours.html", context, status=status)
