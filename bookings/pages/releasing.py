"""Releasing an assessment: its author reads what the student will read, then releases it."""

from datetime import datetime

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from accounts.models import User
from bookings import clock
from bookings.access import access_assessment, name_for, require_assessor
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import NoteState
from bookings.door import write
from bookings.models import Assessment
from bookings.operations.notes import missing_for_release, release_assessment
from bookings.pages.acting import person
from bookings.pages.briefs import texts_of
from bookings.pages.forms import note_fields


@login_required
@require_http_methods(["GET", "POST"])
def release(request: HttpRequest, note_id: int) -> HttpResponse:
    """GET shows the text once more; POST releases the text that was shown, and no other."""
    user, now = person(request), clock.now()
    note = access_assessment(user, note_id)
    require_assessor(user, note.author, note.student_id, now=now)
    if request.method == "GET":
        if note.state == NoteState.RELEASED:
            return redirect("assessment", note_id=note.pk)
        return _page(request, user, note, now)
    try:
        read_at = _read_at(request)
        write(lambda: release_assessment(actor=user, note=note, read_at=read_at, now=now), now=now)
    except Refused as refusal:
        return _page(request, user, note, now, refusal)
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


def _page(
    request: HttpRequest,
    user: User,
    note: Assessment,
    now: datetime,
    refusal: Refused | None = None,
) -> HttpResponse:
    labels = {name: label[0].lower() + label[1:] for name, label, *_ in note_fields()}
    page = {
        "called": name_for(user, note.student, now),
        "note": {"is": note, "texts": texts_of(note), "bands": list(note.bands.items())},
        "missing": " and ".join(labels[name] for name in missing_for_release(note)),
        "refusal": refusal,
    }
    return render(request, "levare/release.html", page, status=refusal.status if refusal else 200)
