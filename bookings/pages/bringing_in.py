"""People from a file: choose it, see what it would do or what is wrong with it, bring them in."""

from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods, require_safe

from bookings import clock
from bookings.access import require_admin
from bookings.domain.errors import Refused
from bookings.domain.people_files import MOST_BYTES, WINDOWS_1252, Column
from bookings.domain.people_plan import Plan
from bookings.door import write
from bookings.models import PeopleFile
from bookings.operations.bringing_in import bring_in, keep_file
from bookings.pages.csv_files import csv_file
from bookings.pages.decorators import takes_file
from bookings.pages.forms.people import PeopleFileForm
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.queries.bringing_in import people_plan, waiting_file

MOST_LINES = 200
"""How many rows, or faults, a page lists. The faults can be downloaded whole."""
_ADULT = ("student", "Robin Marsh", "robin@marsh.example", "4", "1", "adult", "", "Europe/Dublin")
_KIT = ("student", "Kit Fell", "", "2", "1", "minor", "2034-06-01", "Australia/Sydney")
_WREN = ("student", "Wren Fell", "", "1", "1", "minor", "2036-09-14", "Australia/Sydney")
_INES, _OTTO = ("Ines Fell", "ines@fell.example"), ("Otto Fell", "otto@fell.example")
SAMPLE = (
    _ADULT,
    (*_KIT, *_INES, *_OTTO),
    (*_WREN, *_INES),
    ("instructor", "Tenzin Orlo", "tenzin@orlo.example"),
)


@takes_file(MOST_BYTES)
@login_required
@require_http_methods(["GET", "POST"])
def choose_file(request: HttpRequest) -> HttpResponse:
    """GET says what a file looks like; POST keeps one, to be looked at before anything happens."""
    require_admin(user_of(request))
    if request.method == "GET":
        return _choose(request, PeopleFileForm())
    form, now = PeopleFileForm(request.POST, request.FILES), clock.now()
    if not form.is_valid():
        return _choose(request, form)
    # One byte beyond the limit is enough to refuse a file that is too large.
    content = form.cleaned_data["file"].read(MOST_BYTES + 1)
    try:
        kept = write(lambda: keep_file(actor=user_of(request), content=content, now=now), now=now)
    except Refused as refusal:
        form.add_error("file", refusal.detail)
        return _choose(request, form)
    return redirect("people-file", file_id=kept.pk)


def _choose(request: HttpRequest, form: PeopleFileForm) -> HttpResponse:
    return show(request, "levare/bring_in.html", {"form": form, "columns": list(Column)})


@login_required
@require_http_methods(["GET", "POST"])
def people_file(request: HttpRequest, file_id: UUID) -> HttpResponse:
    """GET shows what a file would do, or its faults; POST does exactly that."""
    user, now = user_of(request), clock.now()
    if request.method == "GET":
        kept = waiting_file(user, file_id, now=now)
        return _shown(request, kept, people_plan(kept.text, now=now))
    seen = request.POST.get("seen", "")
    try:
        done = write(lambda: bring_in(actor=user, file_id=file_id, seen=seen, now=now), now=now)
    except Refused as refusal:
        kept = waiting_file(user, file_id, now=now)
        return _shown(request, kept, people_plan(kept.text, now=now), refusal)
    messages.success(
        request,
        f"Brought in. Students added: {len(done.students)}. People invited: {done.people_invited}. "
        f"Already here: {done.here}.",
    )
    return redirect("people")


def _shown(
    request: HttpRequest, kept: PeopleFile, plan: Plan, refusal: Refused | None = None
) -> HttpResponse:
    doing = [line for line in plan.lines if not line.changes_nothing]
    context = {
        "file": kept,
        "plan": plan,
        "faults": plan.faults[:MOST_LINES],
        "rows_with_faults": len({fault.row for fault in plan.faults}),
        "doing": doing[:MOST_LINES],
        "done": len(doing),
        "invited": len(plan.invited),
        "foreign_letters": _foreign_letters(kept, plan),
        "most_lines": MOST_LINES,
        "refusal": refusal,
    }
    return show(request, "levare/people_file.html", context)


def _foreign_letters(kept: PeopleFile, plan: Plan) -> list[str]:
    """Names to look at where the encoding is a guess: those with letters beyond ASCII."""
    if kept.encoding != WINDOWS_1252:
        return []
    names = (line.person.name for line in plan.lines)
    return [name for name in names if not name.isascii()][:8]


@login_required
@require_safe
def faults(request: HttpRequest, file_id: UUID) -> HttpResponse:
    """All faults of a file, one a line, to work through in a spreadsheet."""
    now = clock.now()
    kept = waiting_file(user_of(request), file_id, now=now)
    found = people_plan(kept.text, now=now).faults
    lines = ((fault.row, fault.column, fault.detail) for fault in found)
    return csv_file("faults.csv", ("Row", "Heading", "What to change"), lines)


@login_required
@require_safe
def sample(request: HttpRequest) -> HttpResponse:
    """A file to fill in, with invented people."""
    require_admin(user_of(request))
    return csv_file("people.csv", list(Column), SAMPLE)
