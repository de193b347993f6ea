"""A person's own data: exported, asked for whole, or erased."""

from dataclasses import replace
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts.models import Student
from bookings import clock
from bookings.access import find_own_data, may_approve
from bookings.domain.data_readings import DataRead
from bookings.domain.errors import Refused
from bookings.domain.news import counted
from bookings.door import write
from bookings.operations.exporting import export_all, export_person
from bookings.operations.privacy_requests import ask_for_access, ask_for_erasure
from bookings.pages.downloads import as_file
from bookings.pages.forms.fields import is_said_at_field
from bookings.pages.forms.privacy import ReasonForm
from bookings.pages.pagination import Page, paginate
from bookings.pages.signed_in import user_of
from bookings.queries.data_readings import NOTE, readings_by_school
from bookings.queries.leaving import ends_with_student
from bookings.queries.privacy import ACCESS_STAYS, ERASED_AFTER, asked_about, erased_on

_ADMINS = "Only admins can read it."
_READ = {
    DataRead.HEALTH: "read what hurts before a lesson",
    DataRead.EXPORT: "downloaded an export",
    DataRead.ACCESS: "downloaded an access export",
}


@login_required
@require_safe
def own_data(request: HttpRequest, student_id: int) -> HttpResponse:
    """What can be done with the data of one person, and what has been asked for."""
    return _show(request, student_id)


@login_required
@require_POST
def export(request: HttpRequest, student_id: int) -> HttpResponse:
    """The archive without private remarks. It is a POST, because it is logged."""
    actor, now, why = user_of(request), clock.now(), _why_export(request.POST)
    try:
        made = write(
            lambda: export_person(actor=actor, student_id=student_id, reason=why.text(), now=now),
            now=now,
        )
    except Refused as refusal:
        return _show(request, student_id, refusal, export=why)
    return as_file(made.name, made.content, "application/zip")


@login_required
@require_POST
def ask_access(request: HttpRequest, student_id: int) -> HttpResponse:
    """Asks for the archive with private remarks."""
    actor, now, why = user_of(request), clock.now(), _why_access(request.POST)
    try:
        write(
            lambda: ask_for_access(actor=actor, student_id=student_id, reason=why.text(), now=now),
            now=now,
        )
    except Refused as refusal:
        return _show(request, student_id, refusal, access=why)
    messages.success(request, "Asked for. You get an email once an admin has approved it.")
    return redirect("own-data", student_id=student_id)


@login_required
@require_POST
def access_file(request: HttpRequest, student_id: int) -> HttpResponse:
    """The archive with private remarks, once approved."""
    actor, now = user_of(request), clock.now()
    try:
        made = write(lambda: export_all(actor=actor, student_id=student_id, now=now), now=now)
    except Refused as refusal:
        return _show(request, student_id, refusal)
    return as_file(made.name, made.content, "application/zip")


@login_required
@require_http_methods(["GET", "POST"])
def erase(request: HttpRequest, student_id: int) -> HttpResponse:
    """GET says what an erasure takes and what ends with the request; POST asks for it."""
    actor, now = user_of(request), clock.now()
    student, relation = find_own_data(actor, student_id, now=now)
    refusal, status = None, 200
    why = ReasonForm(
        request.POST if request.method == "POST" else None, why="Reason", reads=_ADMINS
    )
    if request.method == "POST":
        try:
            write(
                lambda: ask_for_erasure(
                    actor=actor,
                    student_id=student_id,
                    reason=why.text(),
                    end_bookings=request.POST.get("end") == "yes",
                    now=now,
                ),
                now=now,
            )
        except Refused as error:
            status, refusal = error.status, None if is_said_at_field(why, error) else error
        else:
            messages.success(request, "Asked for. An admin has to approve it.")
            return redirect("own-data", student_id=student_id)
    context = {
        "student": student,
        "is_own": student.user_id == actor.pk,
        "form": why if relation == "admin" else None,
        "ends": ends_with_student(student, now=now),
        "time_zone": student.zone if relation == "family" else actor.zone,
        "days": ERASED_AFTER.days,
        "refusal": refusal,
    }
    return render(request, "levare/erase.html", context, status=status)


def _why_export(data: Any = None) -> ReasonForm:
    reads = f"{_ADMINS} The family sees that you took an export and read the notes."
    return ReasonForm(data, why="Reason for the export", reads=reads, auto_id="export-%s")


def _why_access(data: Any = None) -> ReasonForm:
    return ReasonForm(data, why="Reason for the access export", reads=_ADMINS, auto_id="access-%s")


def _show(
    request: HttpRequest,
    student_id: int,
    refusal: Refused | None = None,
    *,
    export: ReasonForm | None = None,
    access: ReasonForm | None = None,
) -> HttpResponse:
    """The page; a refusal stands at the reason that was sent, or on top."""
    actor, now = user_of(request), clock.now()
    student, relation = find_own_data(actor, student_id, now=now)
    status, sent = refusal.status if refusal else 200, export or access
    if refusal is not None and sent is not None and is_said_at_field(sent, refusal):
        refusal = None
    context = {
        "student": student,
        "is_own": student.user_id == actor.pk,
        "asks_why": relation == "admin",
        "form": sent,
        "export_form": export or _why_export(),
        "access_form": access or _why_access(),
        "refusal": refusal,
        "shown": _readings(student, request.GET.get("page")),
        **_asked(student, actor.pk, request),
    }
    return render(request, "levare/own_data.html", context, status=status)


def _asked(student: Student, actor_id: int, request: HttpRequest) -> dict[str, Any]:
    asked = asked_about(student, now=clock.now())
    access, erasure = asked.access, asked.erasure
    return {
        "is_erased": asked.is_erased,
        "access": access,
        "access_is_ready": access is not None
        and access.approved_at is not None
        and access.asked_by_id == actor_id,
        "access_until": access.approved_at + ACCESS_STAYS
        if access is not None and access.approved_at is not None
        else None,
        "erasure": erasure,
        "erased_on": erased_on(erasure) if erasure is not None else None,
        "may_approve": may_approve(user_of(request), student, now=clock.now()),
    }


def _readings(student: Student, page: str | None) -> Page:
    """Who of the school has read what, the latest first, each as a line."""
    found = paginate(readings_by_school(student), page, size=20)
    lines = [
        {
            "on": row["at"],
            "name": row["name"] or "Somebody whose account is gone",
            "relation": row["relation"],
            "what": _what(row["kind"], row["number"]),
        }
        for row in found
    ]
    return replace(found, rows=lines)


def _what(kind: str, number: int) -> str:
    if kind == NOTE:
        return f"read {counted(number, 'note')}"
    return _READ[DataRead(kind)]
