"""My students: an instructor's own, the school's for admins; and those who are due a review."""

from dataclasses import replace

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from bookings import clock
from bookings.access import access_list_of
from bookings.door import write
from bookings.operations.my_students import read_entries
from bookings.pages.forms.my_students import StudentsForm
from bookings.pages.pagination import Page, nothing, paginate
from bookings.pages.signed_in import user_of
from bookings.queries.my_students import (
    PAGE_OF,
    Wanted,
    due_among,
    students_by_id,
    students_wanted,
)
from bookings.queries.regular_instructors import instructors_teaching


@login_required
@require_GET
def my_students(request: HttpRequest) -> HttpResponse:
    """The students by name."""
    return _list(request, is_due=False)


@login_required
@require_GET
def due_a_review(request: HttpRequest) -> HttpResponse:
    """Those who are due a review, the most pressing first, each with the reasons."""
    return _list(request, is_due=True)


def _list(request: HttpRequest, *, is_due: bool) -> HttpResponse:
    user, now = user_of(request), clock.now()
    whose = access_list_of(user)
    teachers = instructors_teaching() if user.is_staff else None
    form = StudentsForm(request.GET, is_due=is_due, teachers=teachers)
    shown = nothing(PAGE_OF)
    if form.is_valid():
        wanted = form.wanted(whose)
        whose, shown = wanted.instructor, _page(request, wanted, is_due=is_due)
    context = {
        "form": form,
        "is_due": is_due,
        "shown": shown,
        "rows": write(
            lambda: read_entries(reader=user, students=shown.rows, instructor=whose, now=now),
            now=now,
        ),
        "whose": whose,
    }
    return render(request, "levare/my_students.html", context, status=422 if form.errors else 200)


def _page(request: HttpRequest, wanted: Wanted, *, is_due: bool) -> Page:
    """One page of students, in the order of the list."""
    user, now, asked = user_of(request), clock.now(), request.GET.get("page")
    rows = students_wanted(user, wanted, now=now)
    if not is_due:
        return paginate(rows, asked, size=PAGE_OF)
    page = paginate(due_among(rows, user, wanted.instructor, now=now), asked, size=PAGE_OF)
    students = students_by_id([one.student_id for one in page.rows])
    return replace(page, rows=students)
