"""The brief before a meeting, and assessments: written by their author, read by those who may."""

from datetime import datetime
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from accounts.models import Student, User
from bookings import clock
from bookings.access import (
    access_assessment,
    access_brief,
    may_assess,
    name_for,
    not_there,
    reading_relation,
    require_assessor,
)
from bookings.domain.cautions import speaks_of_pain
from bookings.domain.errors import Refused
from bookings.door import write as through
from bookings.models import Assessment, Intake
from bookings.operations.notes import rewrite_assessment, write_assessment
from bookings.operations.reading_notes import log_reading
from bookings.pages.acting import person
from bookings.pages.forms import AssessmentForm, note_fields
from bookings.queries.lessons import intake_of
from bookings.queries.notes import (
    differs_from_record,
    drafts_about,
    is_latest,
    latest_released,
    one_note,
)


@login_required
@require_GET
def brief(request: HttpRequest, booking_id: int) -> HttpResponse:
    """The one page an instructor reads before a meeting."""
    user, now = person(request), clock.now()
    booking = access_brief(user, booking_id, now=now)
    note = booking.assessment or latest_released(booking.student)
    told = intake_of(booking)
    shown = _read(user, note, now) if note else None
    page = {
        "booking": booking,
        "meeting": booking.meeting,
        "student": booking.student,
        "called": name_for(user, booking.student, now),
        "intake": told,
        "note": shown,
        "cautions": _speaks_of_pain(note if shown else None, told),
        "drafts": drafts_about(booking.student, user),
        "may_write": may_assess(user, booking.meeting.instructor, booking.student_id, now=now),
    }
    return render(request, "levare/brief.html", page)


@login_required
@require_GET
def assessment(request: HttpRequest, note_id: int) -> HttpResponse:
    """A released assessment, for the student, her guardian and the instructors who may read it; each reading is kept."""
    user, now = person(request), clock.now()
    note = one_note(note_id)
    shown = _read(user, note, now) if note else None
    if note is None or shown is None:
        raise not_there()
    page = {
        "note": shown,
        "called": name_for(user, note.student, now),
        "cautions": _speaks_of_pain(note, None),
        "record": _record_asked(note) if shown["may_write"] else None,
    }
    return render(request, "levare/assessment.html", page)


def _record_asked(note: Assessment) -> Student | None:
    """The student whose record the author is asked about: the latest released assessment says
    another level or unit.
    """
    return note.student if differs_from_record(note) and is_latest(note) else None


def _read(user: User, note: Assessment, now: datetime) -> dict[str, Any] | None:
    """The note's text for this reader, None where she may not read it; the reading is written down first."""
    relation = reading_relation(user, note, now=now)
    if (
        relation is None or relation == "admin"
    ):  # an admin's reading needs a reason, which a page to glance at cannot ask
        return None
    through(lambda: log_reading(reader=user, note=note, relation=relation, now=now), now=now)
    return {
        "is": note,
        "texts": texts_of(note),
        "bands": list(note.bands.items()),
        "may_write": relation == "author"
        and may_assess(user, note.author, note.student_id, now=now),
        "private_remarks": note.private_remarks if relation == "author" else "",
    }


def texts_of(note: Assessment) -> list[tuple[str, str]]:
    """(label, text) of what the student reads, but for the caution."""
    texts = [
        (label, getattr(note, name))
        for name, label, *_ in note_fields()
        if name not in ("private_remarks", "caution")
    ]
    return [(label, text) for label, text in texts if text]


def _speaks_of_pain(note: Assessment | None, told: Intake | None) -> bool:
    said = [note.caution, note.obstacle, note.next_step, note.strengths] if note else []
    if told:
        said += [told.obstacle, told.pieces, *told.questions]
    return bool(note and note.caution) or speaks_of_pain(said)


@login_required
@require_http_methods(["GET", "POST"])
def write(request: HttpRequest, booking_id: int) -> HttpResponse:
    """A new assessment of the student one meets."""
    user = person(request)
    booking = access_brief(user, booking_id, now=clock.now())
    student, author = booking.student, booking.meeting.instructor
    require_assessor(user, author, student.pk, now=clock.now())
    heard_at = min(booking.starts_at, clock.now())
    on = heard_at.astimezone(author.user.time_zone).date()
    form = AssessmentForm(
        request.POST or None, initial={"level": student.level, "unit": student.unit, "heard_on": on}
    )

    def keep(now: datetime) -> Assessment:
        return write_assessment(
            actor=user, author=author, student_id=student.pk, text=form.text(), now=now
        )

    return _written(request, form, student, keep, back=f"/brief/{booking.pk}/")


@login_required
@require_http_methods(["GET", "POST"])
def rewrite(request: HttpRequest, note_id: int) -> HttpResponse:
    """A draft changed in place, or a released one followed by a new version."""
    user = person(request)
    note = access_assessment(user, note_id)
    require_assessor(user, note.author, note.student_id, now=clock.now())
    names = ["level", "unit", "heard_on", "bands", *(name for name, *_ in note_fields())]
    form = AssessmentForm(
        request.POST or None, initial={name: getattr(note, name) for name in names}
    )

    def keep(now: datetime) -> Assessment:
        return rewrite_assessment(actor=user, note=note, text=form.text(), now=now)

    return _written(request, form, note.student, keep, back=None, note=note)


def _written(
    request: HttpRequest,
    form: AssessmentForm,
    student: Student,
    keep: Any,
    *,
    back: str | None,
    note: Assessment | None = None,
) -> HttpResponse:
    now = clock.now()
    page = {
        "form": form,
        "called": name_for(person(request), student, now),
        "note": note,
        "back": back,
    }
    if request.method == "GET" or not form.is_valid():
        return render(
            request, "levare/write_assessment.html", page, status=422 if form.errors else 200
        )
    try:
        kept = through(lambda: keep(now), now=now)
    except Refused as refusal:
        if refusal.data.get("field") in form.fields:
            form.add_error(refusal.data["field"], refusal.detail)
        else:
            page["refusal"] = refusal
        return render(request, "levare/write_assessment.html", page, status=refusal.status)
    if request.POST.get("then") == "release":
        return redirect("release", note_id=kept.pk)
    messages.success(request, "Saved as a draft. Only you see it.")
    return redirect("rewrite", note_id=kept.pk)
