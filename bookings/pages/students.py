"""Students, as an admin notes them: one more, and each to change."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods, require_POST

from accounts.models import Student
from bookings import clock
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.operations.closing import return_to_school
from bookings.operations.new_students import add_student_and_invite
from bookings.operations.regular_instructors import name_regular_instructor
from bookings.operations.students import change_student
from bookings.pages.forms.new_students import NewStudentForm
from bookings.pages.forms.people import RegularInstructorForm, StudentForm
from bookings.pages.parameters import read_id
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.queries.around_people import around_student
from bookings.queries.guardians import needs_guardian
from bookings.queries.people import one_student
from bookings.queries.regular_instructors import instructors_teaching, taught_most


@login_required
@require_http_methods(["GET", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    """One more student, with an invitation to an adult or to a minor's guardians."""
    require_admin(user_of(request))
    now = clock.now()
    form = NewStudentForm(request.POST or None, now=now)
    if request.method == "GET" or not form.is_valid():
        return _show_new(request, form)
    values: dict[str, Any] = form.cleaned_data
    try:
        added = write(
            lambda: add_student_and_invite(actor=user_of(request), now=now, **values), now=now
        )
    except Refused as refusal:
        return _show_new(request, form, None if form.tell(refusal) else refusal)
    messages.success(request, _added(added, values))
    return redirect("student", student_id=added.pk)


def _added(student: Student, values: dict[str, Any]) -> str:
    """What has been done, and what is still to do."""
    names = [guardian.name for guardian in values["new_guardians"]]
    invited = [str(student), *names] if values["email"] else names
    then = f"Invited: {' and '.join(invited)}." if invited else "Invite them from this page."
    return f"Added: {student}. {then}"


def _show_new(
    request: HttpRequest, form: NewStudentForm, refusal: Refused | None = None
) -> HttpResponse:
    return show(request, "levare/new_student.html", {"form": form, "refusal": refusal})


@login_required
@require_http_methods(["GET", "POST"])
def student(request: HttpRequest, student_id: int) -> HttpResponse:
    """GET shows a student with their guardians; POST changes what the school notes."""
    found, now = one_student(user_of(request), student_id), clock.now()
    form = StudentForm(request.POST or None, student=found, now=now)
    if request.method == "GET" or not form.is_valid():
        return _show(request, form, found)
    values: dict[str, Any] = form.cleaned_data
    try:
        write(
            lambda: change_student(actor=user_of(request), student=found, now=now, **values),
            now=now,
        )
    except Refused as refusal:
        return _show(request, form, found, refusal)
    messages.success(request, "Saved.")
    return redirect("student", student_id=found.pk)


@login_required
@require_POST
def regular_instructor(request: HttpRequest, student_id: int) -> HttpResponse:
    """Names the student's regular instructor, or takes the name away."""
    found, now = one_student(user_of(request), student_id), clock.now()
    form = RegularInstructorForm(request.POST, student=found, teachers=instructors_teaching())
    if not form.is_valid():
        return _show(request, StudentForm(student=found, now=now), found, regular=form)
    chosen, seen = form.cleaned_data["regular_instructor"], request.POST.get("seen")
    try:
        write(
            lambda: name_regular_instructor(
                actor=user_of(request),
                student=found,
                instructor=chosen,
                seen=None if seen is None else (read_id(seen) if seen else None,),
                now=now,
            ),
            now=now,
        )
    except Refused as refusal:
        return _show(request, StudentForm(student=found, now=now), found, refusal)
    messages.success(request, "Saved.")
    return redirect("student", student_id=found.pk)


@login_required
@require_POST
def come_back(request: HttpRequest, student_id: int) -> HttpResponse:
    """Lets somebody who has left learn here again."""
    found, now = one_student(user_of(request), student_id), clock.now()
    try:
        write(lambda: return_to_school(actor=user_of(request), student=found, now=now), now=now)
    except Refused as refusal:
        return _show(request, StudentForm(student=found, now=now), found, refusal)
    messages.success(request, f"{found.full_name} is a student here again.")
    return redirect("student", student_id=found.pk)


def _show(
    request: HttpRequest,
    form: StudentForm,
    found: Student,
    refusal: Refused | None = None,
    regular: RegularInstructorForm | None = None,
) -> HttpResponse:
    context = {"form": form, "student": found, "refusal": refusal}
    context |= _beside(request, found, regular)
    return show(request, "levare/student.html", context, is_wrong=bool(regular and regular.errors))


def _beside(
    request: HttpRequest, found: Student, regular: RegularInstructorForm | None
) -> dict[str, Any]:
    """What the page of a student who is noted shows beside the record."""
    now, teachers = clock.now(), instructors_teaching()
    return {
        "around": around_student(user_of(request), found, now=now),
        "needs_guardian": needs_guardian(found, now),
        "regular": regular or RegularInstructorForm(student=found, teachers=teachers),
        "taught_most": taught_most(found, teachers, now=now),
    }
