"""Wrap up: the register, the note and the next date on one page after a lesson."""

from dataclasses import replace
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from bookings.domain.errors import Refused
from bookings.domain.vocabulary import CAME, NoteForm, NoteState
from bookings.door import write
from bookings.operations.notes import missing_for_release
from bookings.operations.wrap_up import WrappedUp
from bookings.operations.wrap_up import wrap_up as wrap_up_lesson
from bookings.pages.forms.fields import is_said_at_field
from bookings.pages.forms.wrap_up import WrapUpForm, next_date_value, read_next_date
from bookings.pages.parameters import read_written_at
from bookings.pages.plan_rows import with_usual_plan
from bookings.pages.wrap_up_page import (
    Lesson,
    answer,
    form_for,
    lesson_to_wrap_up,
    page,
    written,
)
from bookings.queries.notes import note_of_meeting

_MISSING = "This is needed before the note is released."
_SHOWN_AGAIN = ("usual", "switch", "dates")
"""Buttons that save nothing: they show the form again with more in it."""


@login_required
@require_http_methods(["GET", "POST"])
def wrap_up(request: HttpRequest, booking_id: int) -> HttpResponse:
    """GET shows the draft; POST keeps it, and leads to releasing it where that is asked for."""
    lesson = lesson_to_wrap_up(request, booking_id)
    then = request.POST.get("then", "keep")
    if request.method == "GET":
        return page(request, lesson, form_for(lesson, _asked(request)))
    if then in _SHOWN_AGAIN:
        return page(request, lesson, form_for(lesson, {}, _changed(request, lesson, then)))
    form = form_for(lesson, {}, request.POST)
    is_valid = form.is_valid()
    if not form["attendance"].value() and then != "auto":
        form.add_error("attendance", "Say who came.")
    if not is_valid or form.errors:
        return answer(request, lesson, form, status=422)
    try:
        done = write(lambda: _keep(request, lesson, form), now=lesson.now)
    except Refused as refusal:
        return _refused(request, lesson, form, refusal)
    lesson = replace(lesson, note=done.note, read=written(done.note))
    if then == "auto":
        return answer(request, lesson, form)
    if then == "release":
        return _towards_release(request, lesson, form)
    messages.success(request, "Saved. Only you see a draft.")
    return redirect(f"{request.path}?{_choice(form)}")


def _keep(request: HttpRequest, lesson: Lesson, form: WrapUpForm) -> WrappedUp:
    return wrap_up_lesson(
        actor=lesson.user,
        booking=lesson.booking,
        attendance=form.attendance_said(),
        text=form.text() if lesson.may_write else None,
        read_at=read_written_at(request),
        now=lesson.now,
    )


def _refused(
    request: HttpRequest, lesson: Lesson, form: WrapUpForm, refusal: Refused
) -> HttpResponse:
    """The form as it was typed, the fault at its field if it has one."""
    if is_said_at_field(form, refusal):
        return answer(request, lesson, form, status=refusal.status)
    note = note_of_meeting(lesson.booking.meeting, lesson.booking.student_id)
    if request.POST.get("then") != "auto":  # a second press replaces what was shown
        lesson = replace(lesson, note=note, read=written(note))
    return answer(request, lesson, form, refusal=refusal, status=refusal.status)


def _towards_release(request: HttpRequest, lesson: Lesson, form: WrapUpForm) -> HttpResponse:
    """The page that asks once more, or the form again with what is still missing."""
    note = lesson.note
    if note is not None and note.state == NoteState.DRAFT and form.attendance_said() in CAME:
        for name in missing_for_release(note):
            form.add_error(name if name in form.fields else None, _MISSING)
    if form.errors:
        return page(request, lesson, form, status=422)
    where = reverse("release-wrap-up", args=[lesson.booking.pk])
    return redirect(f"{where}?{_choice(form)}")


def _choice(form: WrapUpForm) -> str:
    """The choice of the next date, which is not stored, for an address."""
    weeks = form.cleaned_data["follow_up_weeks"] or ""
    chosen = next_date_value(read_next_date(form.cleaned_data["next_date"]))
    return urlencode({"weeks": weeks, "next": chosen})


def _asked(request: HttpRequest) -> dict[str, Any]:
    """The same from the address, as the form's values."""
    names = {"weeks": "follow_up_weeks", "next": "next_date"}
    return {field: request.GET[name] for name, field in names.items() if name in request.GET}


def _changed(request: HttpRequest, lesson: Lesson, then: str) -> dict[str, Any]:
    """What was typed, and what the button adds to it."""
    typed = request.POST.dict()
    if then == "switch":
        is_light = typed.get("form") == NoteForm.LESSON_NOTE
        typed["form"] = (NoteForm.ASSESSMENT if is_light else NoteForm.LESSON_NOTE).value
    if then == "usual":
        typed = with_usual_plan(typed, lesson.booking.student, lesson.now)
    return typed
