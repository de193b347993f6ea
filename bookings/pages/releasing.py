"""Releasing a note: the text is shown once more, and that text is released."""

from datetime import datetime

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods

from accounts.models import User
from bookings import clock
from bookings.access import access_assessment, name_for, require_assessor
from bookings.domain.errors import Refused
from bookings.domain.vocabulary import NoteForm, NoteState
from bookings.door import write
from bookings.models import Assessment
from bookings.operations.notes import missing_for_release, release_assessment
from bookings.pages.notes import shown_note
from bookings.pages.parameters import read_id, read_written_at
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.queries.notes import latest_by_another, says_other_level

_MISSING = {"next_steps": "a next step", "goal": "a goal"}
_MISSING_OF_LESSON = "what you heard, a next step or something to practise"


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
        return _page(request, user, note, now)
    over, adopt = request.POST.get("over"), "adopt" in request.POST
    try:
        read_at = read_written_at(request)
        if read_at is None:
            raise Refused("stale", "Read the note below, then release it.")
        write(
            lambda: release_assessment(
                actor=user,
                note=note,
                read_at=read_at,
                over=read_id(over) if over else None,
                adopt=adopt,
                now=now,
            ),
            now=now,
        )
    except Refused as refusal:
        return _page(request, user, access_assessment(user, note_id), now, refusal)
    messages.success(
        request, "Released. The family gets an email, and every upcoming lesson shows it."
    )
    return redirect("assessment", note_id=note.pk)


def _page(
    request: HttpRequest,
    user: User,
    note: Assessment,
    now: datetime,
    refusal: Refused | None = None,
) -> HttpResponse:
    context = {
        "called": name_for(user, note.student, now),
        "note": shown_note(note),
        "missing": _missing(note),
        "is_released": note.state == NoteState.RELEASED,
        "record": note.student if says_other_level(note) else None,
        "over": latest_by_another(note),
        "refusal": refusal,
    }
    return show(request, "levare/release.html", context)


def _missing(note: Assessment) -> str:
    """What the note still needs, in words; empty if nothing."""
    absent = missing_for_release(note)
    if absent and note.form == NoteForm.LESSON_NOTE:
        return _MISSING_OF_LESSON
    return " and ".join(_MISSING[name] for name in absent)
