"""Notes for those who may read them: a page for each, and what a brief shows of one."""

from datetime import datetime
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from accounts.models import Student, User
from bookings import clock
from bookings.access import may_assess, name_for, not_there, reading_relation
from bookings.domain.cautions import speaks_of_pain
from bookings.domain.notes import FOLLOW_UPS
from bookings.domain.practice import items_of, minutes_a_day
from bookings.domain.techniques import BAND_WORDS
from bookings.domain.vocabulary import GoalOutcome, NoteForm
from bookings.door import write
from bookings.models import Assessment, Intake
from bookings.operations.reading_notes import log_reading
from bookings.pages.forms.notes import FORM_WORDS, OUTCOME_WORDS
from bookings.pages.signed_in import user_of
from bookings.queries.notes import differs_from_record, is_latest, one_note


@login_required
@require_GET
def assessment(request: HttpRequest, note_id: int) -> HttpResponse:
    """A released note, for those who may read it. Each reading is recorded."""
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
    read = write(lambda: log_reading(reader=user, note=note, relation=relation, now=now), now=now)
    return {
        **shown_note(note),
        "is_whole": True,
        "readings": None if read.readings is None else read.readings.get(note.pk, []),
        "may_write": relation == "author"
        and may_assess(user, note.author, note.student_id, now=now),
        "private_remarks": note.private_remarks if relation == "author" else "",
    }


def shown_note(note: Assessment) -> dict[str, Any]:
    """A note as its page shows it, bands and outcomes in words."""
    return {
        "is": note,
        "kind": FORM_WORDS[NoteForm(note.form)],
        "bands": [(name, BAND_WORDS[band]) for name, band in note.bands.items()],
        "last_goal": OUTCOME_WORDS[GoalOutcome(note.last_goal)] if note.last_goal else "",
        "practice": items_of(note.practice),
        "minutes": minutes_a_day(items_of(note.practice)),
        "weeks": FOLLOW_UPS[note.follow_up_weeks] if note.follow_up_weeks else "",
    }


def mentions_pain(note: Assessment | None, told: Intake | None) -> bool:
    """Whether the note or the intake speaks of pain, or the note has a caution."""
    said = [note.caution, note.obstacle, *note.next_steps, note.strengths] if note else []
    if told:
        said += [told.obstacle, told.pieces, *told.questions]
    return bool(note and note.caution) or speaks_of_pain(said)
