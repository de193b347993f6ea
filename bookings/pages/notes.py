"""Assessments: their author writes and releases them; those who may, read them."""

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
from bookings.domain.vocabulary import NoteState
from bookings.door import write
from bookings.models import Assessment, Intake
from bookings.operations.notes import (
    missing_for_release,
    release_assessment,
    rewrite_assessment,
    write_assessment,
)
from bookings.operations.reading_notes import log_reading
from bookings.pages.forms.notes import AssessmentForm, note_fields
from bookings.pages.signed_in import user_of
from bookings.queries.notes import (
    differs_from_record,
    is_latest,
    one_note,
)


@login_required
@require_GET
def assessment(request: HttpRequest, note_id: int) -> HttpResponse:
    """A released assessment, for those who may read it. Each reading is recorded."""
    user, now = user_of(request), clock.now()
    note = one_note(note_id)
    shown = read_note(user, note, now) if note else None
    if note is None or shown is None:
        raise not_there()
    context = {
        "note": shown,
        "called": name_for(user, note.student, now),
        "cautions": mentions_pain(note, None),
        "record": _record_asked(note) if shown["may_write"] else None,
    }
    return render(request, "levare/assessment.html", context)


def _record_asked(note: Assessment) -> Student | None:
    """The student, if this note is the latest released and says another level or unit."""
    return note.student if differs_from_record(note) and is_latest(note) else None


def read_note(user: User, note: Assessment, now: datetime) -> dict[str, Any] | None:
    """The note as this reader may see it, None if they may not. Records the reading first."""
    relation = reading_relation(user, note, now=now)
    # An admin has to give a reason to read a note, which this page does not ask for.
    if relation is None or relation == "admin":
        return None
    write(lambda: log_reading(reader=user, note=note, relation=relation, now=now), now=now)
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


def mentions_pain(note: Assessment | None, told: Intake | None) -> bool:
    """Whether the note or the intake speaks of pain, or the note has a caution.

    An intake that says what hurts does so without being opened.
    """
    said = [note.caution, note.obstacle, note.next_step, note.strengths] if note else []
    if told:
        said += [told.obstacle, told.pieces, *told.questions]
    is_said = bool((note and note.caution) or (told and told.sealed_hurts))
    return is_said or speaks_of_pain(said)


@login_required
@require_http_methods(["GET", "POST"])
def new(request: HttpRequest, booking_id: int) -> HttpResponse:
    """A new assessment of the student of this booking."""
    user = user_of(request)
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

    return _save(request, form, student, keep, back=f"/brief/{booking.pk}/")


@login_required
@require_http_methods(["GET", "POST"])
def rewrite(request: HttpRequest, note_id: int) -> HttpResponse:
    """A draft changed in place, or a released one followed by a new version."""
    user = user_of(request)
    note = access_assessment(user, note_id)
    require_assessor(user, note.author, note.student_id, now=clock.now())
    names = ["level", "unit", "heard_on", "bands", *(name for name, *_ in note_fields())]
    form = AssessmentForm(
        request.POST or None, initial={name: getattr(note, name) for name in names}
    )

    def keep(now: datetime) -> Assessment:
        return rewrite_assessment(actor=user, note=note, text=form.text(), now=now)

    return _save(request, form, note.student, keep, back=None, note=note)


def _save(
    request: HttpRequest,
    form: AssessmentForm,
    student: Student,
    keep: Any,
    *,
    back: str | None,
    note: Assessment | None = None,
) -> HttpResponse:
    now = clock.now()
    context = {
        "form": form,
        "called": name_for(user_of(request), student, now),
        "note": note,
        "back": back,
    }
    if request.method == "GET" or not form.is_valid():
        return render(
            request, "levare/write_assessment.html", context, status=422 if form.errors else 200
        )
    try:
        kept = write(lambda: keep(now), now=now)
    except Refused as refusal:
        if refusal.data.get("field") in form.fields:
            form.add_error(refusal.data["field"], refusal.detail)
        else:
            context["refusal"] = refusal
        return render(request, "levare/write_assessment.html", context, status=refusal.status)
    if request.POST.get("then") == "release":
        return redirect("release", note_id=kept.pk)
    messages.success(request, "Saved as a draft. Only you see it.")
    return redirect("rewrite", note_id=kept.pk)


@login_required
@require_http_methods(["GET", "POST"])
def release(request: HttpRequest, note_id: int) -> HttpResponse:
    """GET shows the text once more; POST releases the text that was shown, and no other."""
    user, now = user_of(request), clock.now()
    note = access_assessment(user, note_id)
    require_assessor(user, note.author, note.student_id, now=now)
    if request.method == "GET":
        if note.state == NoteState.RELEASED:
            return redirect("assessment", note_id=note.pk)
        return _release_page(request, user, note, now)
    try:
        read_at = _read_at(request)
        write(lambda: release_assessment(actor=user, note=note, read_at=read_at, now=now), now=now)
    except Refused as refusal:
        return _release_page(request, user, note, now, refusal)
    messages.success(
        request, "Released. The student gets an email, and every upcoming lesson shows it."
    )
    return redirect("assessment", note_id=note.pk)


def _read_at(request: HttpRequest) -> datetime:
    """When the text on the page was written, as the form says it."""
    try:
        return datetime.fromisoformat(request.POST.get("read", ""))
    except ValueError:
        raise Refused("stale", "Read the assessment below, then release it.") from None


def _release_page(
    request: HttpRequest,
    user: User,
    note: Assessment,
    now: datetime,
    refusal: Refused | None = None,
) -> HttpResponse:
    labels = {name: label[0].lower() + label[1:] for name, label, *_ in note_fields()}
    context = {
        "called": name_for(user, note.student, now),
        "note": {"is": note, "texts": texts_of(note), "bands": list(note.bands.items())},
        "missing": " and ".join(labels[name] for name in missing_for_release(note)),
        "refusal": refusal,
    }
    return render(
        request, "levare/release.html", context, status=refusal.status if refusal else 200
    )
