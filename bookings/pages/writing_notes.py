"""Notes as their author writes them: a draft, or a new version of a released one."""

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from accounts.models import Student
from bookings import clock
from bookings.access import access_assessment, access_brief, name_for, require_assessor
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import Kind, NoteForm
from bookings.door import write
from bookings.models import Assessment
from bookings.operations.notes import rewrite_assessment, write_assessment
from bookings.pages.forms.fields import is_said_at_field
from bookings.pages.forms.notes import AssessmentForm
from bookings.pages.parameters import read_written_at
from bookings.pages.plan_rows import plan_told, with_usual_plan
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.queries.techniques import techniques_for


@login_required
@require_http_methods(["GET", "POST"])
def new(request: HttpRequest, booking_id: int) -> HttpResponse:
    """A new note about the student of this booking, heard in its meeting."""
    user = user_of(request)
    booking = access_brief(user, booking_id, now=clock.now())
    student, meeting = booking.student, booking.meeting
    author = meeting.instructor
    require_assessor(user, author, student.pk, now=clock.now())
    heard_at = min(booking.starts_at, clock.now())
    is_lesson = meeting.offering.kind == Kind.PRIVATE_LESSON
    initial = {
        "level": student.level,
        "unit": student.unit,
        "heard_on": heard_at.astimezone(author.user.time_zone).date(),
        "form": NoteForm.LESSON_NOTE if is_lesson else NoteForm.ASSESSMENT,
    }
    form = AssessmentForm(
        _typed(request, student), initial=initial, techniques=techniques_for(author, meeting)
    )

    def keep(now: datetime) -> Assessment:
        return write_assessment(
            actor=user,
            author=author,
            student_id=student.pk,
            text=form.text(),
            meeting=meeting,
            now=now,
        )

    return _save(request, form, student, keep, back=f"/brief/{booking.pk}/")


@login_required
@require_http_methods(["GET", "POST"])
def rewrite(request: HttpRequest, note_id: int) -> HttpResponse:
    """A draft changed in place, or a released one followed by a new version.

    The form holds when the text that it showed was written. If another window has saved since, what
    was typed here is shown again, and saved over the other text only on a second press.
    """
    user = user_of(request)
    note = access_assessment(user, note_id)
    require_assessor(user, note.author, note.student_id, now=clock.now())
    known = techniques_for(note.author, note.meeting)
    form = AssessmentForm(
        _typed(request, note.student),
        initial={name: getattr(note, name) for name in _FIELDS},
        techniques=[*known, *(name for name in note.bands if name not in known)],
    )
    read_at = read_written_at(request)

    def keep(now: datetime) -> Assessment:
        return rewrite_assessment(actor=user, note=note, text=form.text(), read_at=read_at, now=now)

    return _save(request, form, note.student, keep, note=note)


_FIELDS = (*AssessmentForm.base_fields, "bands", "practice")


def _typed(request: HttpRequest, student: Student) -> Mapping[str, str] | None:
    """What was typed, with the usual plan where its button was pressed; None before anything is."""
    if request.POST.get("then") == "usual":
        return with_usual_plan(request.POST.dict(), student, clock.now())
    return request.POST or None


def _save(
    request: HttpRequest,
    form: AssessmentForm,
    student: Student,
    keep: Callable[[datetime], Assessment],
    *,
    back: str = "",
    note: Assessment | None = None,
) -> HttpResponse:
    now = clock.now()
    context: dict[str, Any] = {
        "form": form,
        "called": name_for(user_of(request), student, now),
        "note": note,
        "back": back,
        **plan_told(note, student, now),
    }
    if request.POST.get("then") == "usual":  # nothing is saved, so what was read stays the same
        context["read"] = request.POST.get("read", "")
        return render(request, "levare/write_assessment.html", context)
    if request.method == "GET" or not form.is_valid():
        return show(request, "levare/write_assessment.html", context)
    try:
        kept = write(lambda: keep(now), now=now)
    except Refused as refusal:
        if not is_said_at_field(form, refusal):
            context["refusal"] = refusal
        return render(request, "levare/write_assessment.html", context, status=refusal.status)
    if request.POST.get("then") == "release":
        return redirect("release", note_id=kept.pk)
    messages.success(request, "Saved as a draft. Only you see it.")
    return redirect("rewrite", note_id=kept.pk)
