"""Every released note about a student, as a line through time and as a table."""

from collections.abc import Sequence
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from bookings import clock
from bookings.access import name_for
from bookings.domain.errors import Refused
from bookings.domain.notes import outcomes
from bookings.domain.vocabulary import GoalOutcome
from bookings.door import write
from bookings.models import Assessment
from bookings.operations.reading_notes import History, open_history
from bookings.pages.forms.fields import line_of as one_line
from bookings.pages.forms.notes import OUTCOME_WORDS
from bookings.pages.history_line import BAND_HEIGHT, line_of
from bookings.pages.notes import shown_note
from bookings.pages.pagination import Page, paginate
from bookings.pages.signed_in import user_of

_ON_A_PAGE = 40


@login_required
@require_http_methods(["GET", "POST"])
def history(request: HttpRequest, student_id: int) -> HttpResponse:
    """The notes about a student, forty a page. Each reading is recorded.

    An admin is asked for a reason first, and sends it by POST: addresses are logged.
    """
    user, now = user_of(request), clock.now()
    reason = one_line(request.POST.get("reason", ""))
    asked = request.POST.get("page") or request.GET.get("page")

    def read() -> tuple[History, Page]:
        found = open_history(reader=user, student_id=student_id, reason=reason, now=now)
        page = paginate(found.rows, asked, size=_ON_A_PAGE)
        found.read(page.rows)
        return found, page

    try:
        found, page = write(read, now=now)
    except Refused as refusal:
        if refusal.code != "invalid":
            raise
        return _asks_why(request, refusal)
    context = {
        "student": found.student,
        "called": name_for(user, found.student, now),
        "page": page,
        "reason": reason,
        "band_height": BAND_HEIGHT,
        **_shown(page.rows, found),
    }
    return render(request, "levare/history.html", context)


def _asks_why(request: HttpRequest, refusal: Refused) -> HttpResponse:
    """The form for an admin's reason; the refusal stands on it once they have sent none."""
    if request.method == "GET":
        return render(request, "levare/history_reason.html")
    return render(request, "levare/history_reason.html", {"refusal": refusal}, status=422)


def _shown(rows: Sequence[Assessment], found: History) -> dict[str, Any]:
    """The drawing, the table with the latest note first, and the last two notes whole."""
    notes = sorted(rows, key=lambda note: (note.heard_on, note.pk))
    became = outcomes([(note.goal, note.last_goal) for note in notes])
    table = [
        {
            **shown_note(note),
            "became": OUTCOME_WORDS[GoalOutcome(outcome)] if outcome else "",
            "may_open": found.relation == "family" or note.author.user_id == found.reader.pk,
        }
        for note, outcome in zip(notes, became, strict=True)
    ]
    return {
        "line": line_of(notes) if notes else None,
        "first": notes[0] if notes else None,
        "last": notes[-1] if notes else None,
        "table": table[::-1],
        "last_two": table[-2:],
    }
