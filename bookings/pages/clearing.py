"""Hours that an instructor cannot teach: what becomes of each meeting, read before it is done."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from accounts.models import Instructor
from bookings import clock
from bookings.domain.clearing import Decision, Remedy, check_stretch, shown_digest
from bookings.domain.errors import Refused
from bookings.domain.news import counted
from bookings.domain.zones import zone
from bookings.door import rehearse, write
from bookings.operations.clearing import Done
from bookings.operations.days_away import clear_hours, go_away, to_reinstate
from bookings.pages.clearing_choices import chosen_in, decisions_in, rows_of
from bookings.pages.forms.clearing import Away, ClearForm
from bookings.pages.hours import address_of, back, whose
from bookings.pages.parameters import read_day, read_id
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.queries.clearing_shown import Options, emails_shown, options_in
from bookings.queries.days_away import places_in
from bookings.queries.teaching import zone_of_hours

MOST_LISTED = 100


@login_required
@require_http_methods(["GET", "POST"])
def clear(request: HttpRequest) -> HttpResponse:
    """GET asks for the hours; POST shows what becomes of each meeting, or does what was shown."""
    instructor = whose(request)
    here = zone_of_hours(instructor)
    if request.method == "GET":
        named = request.GET.get("on")
        on = read_day(named) if named else clock.now().astimezone(zone(here)).date()
        return _form_page(request, instructor, ClearForm(initial={"first_on": on}, time_zone=here))
    form = ClearForm(request.POST, time_zone=here)
    if not form.is_valid():
        return _form_page(request, instructor, form)
    if "done" not in request.POST:
        return preview(request, instructor, form)
    return _do(request, instructor, form)


def _form_page(
    request: HttpRequest, instructor: Instructor, form: ClearForm, refusal: Refused | None = None
) -> HttpResponse:
    shown = {
        "form": form,
        "fields": [form[name] for name in ("first_on", "last_on", "from_at", "to_at")],
        "instructor": instructor,
        "zone": zone_of_hours(instructor),
        "back": address_of(instructor, request),
        "refusal": refusal,
    }
    return show(request, "levare/clear_hours.html", shown)


def _do(request: HttpRequest, instructor: Instructor, form: ClearForm) -> HttpResponse:
    """Does what was shown. What was changed since, or has changed, is shown before it is done."""
    away, why, now = form.cleaned_data["away"], form.cleaned_data["why"], clock.now()
    seen, decisions = request.POST.get("seen", ""), decisions_in(request.POST)
    if request.POST.get("shown") != shown_digest(decisions, why, seen):
        return preview(request, instructor, form, is_changed=True)
    try:
        done = write(lambda: _act(request, instructor, away, decisions, why, seen, now), now=now)
    except Refused as refusal:
        return preview(request, instructor, form, refusal)
    messages.success(request, _said(done, away))
    to_propose = [one.meeting_id for one in done.decisions if one.remedy == Remedy.PROPOSE]
    if not to_propose:
        return back(instructor, request)
    return redirect(address_naming("cleared", instructor.pk, to_propose))


def _act(
    request: HttpRequest,
    instructor: Instructor,
    away: Away,
    decisions: Sequence[Decision],
    why: str,
    seen: str,
    now: datetime,
) -> Done:
    """Whole days become days away; hours are cleared. Nothing is offered in either."""
    actor = user_of(request)
    if not away.is_whole_days:
        return clear_hours(
            actor=actor,
            instructor=instructor,
            stretch=away.stretch,
            decisions=decisions,
            why=why,
            seen=seen,
            now=now,
        )
    went = go_away(
        actor=actor,
        instructor=instructor,
        first_on=away.first_on,
        last_on=away.last_on,
        time_zone=zone_of_hours(instructor),
        call_off_why=why,
        decisions=decisions,
        seen=seen,
        now=now,
    )
    return went.done


def preview(
    request: HttpRequest,
    instructor: Instructor,
    form: ClearForm,
    refusal: Refused | None = None,
    *,
    is_changed: bool = False,
) -> HttpResponse:
    """What becomes of each meeting, and the email of each reader; nothing is written yet."""
    away, why, now = form.cleaned_data["away"], form.cleaned_data["why"], clock.now()
    try:
        check_stretch(away.stretch, now)
    except Refused as error:
        return _form_page(request, instructor, form, error)
    reader, chosen = user_of(request), chosen_in(request.POST)
    options = options_in(instructor, away.stretch, chosen, reader=reader, now=now)
    decisions: Sequence[Decision] = options.decisions
    seen, emails = options.seen, []
    try:
        done = rehearse(lambda: _act(request, instructor, away, decisions, why, seen, now))
    except Refused as error:
        refusal = refusal or error
        is_doable = False
    else:
        decisions, is_doable = done.decisions, True
        places = [*places_in([row.meeting for row in options.rows]), *done.proposals]
        emails = emails_shown(done.messages, places, reader=reader, now=now)
    shown = {
        **_shown(request, instructor, form, options, decisions),
        "emails": emails,
        "is_doable": is_doable,
        "is_changed": is_changed and refusal is None,
        "refusal": refusal,
        "shown": shown_digest(decisions, why, seen),
    }
    return show(request, "levare/clear_hours_preview.html", shown)


def _shown(
    request: HttpRequest,
    instructor: Instructor,
    form: ClearForm,
    options: Options,
    decisions: Sequence[Decision],
) -> dict[str, Any]:
    here = zone_of_hours(instructor)
    return {
        "form": form,
        "hidden": [form[name] for name in ("first_on", "last_on", "from_at", "to_at")],
        "away": form.cleaned_data["away"],
        "rows": rows_of(options, decisions, here),
        "running": options.running,
        "seen": options.seen,
        "instructor": instructor,
        "zone": here,
        "back": address_of(instructor, request),
    }


def _said(done: Done, away: Away) -> str:
    counts = {remedy: sum(1 for one in done.decisions if one.remedy == remedy) for remedy in Remedy}
    off = counts[Remedy.CALL_OFF] + counts[Remedy.PROPOSE]
    parts = [
        f"{counted(number, 'meeting')} {words}"
        for number, words in (
            (off, "called off"),
            (counts[Remedy.COVER], "with a substitute"),
            (counts[Remedy.MOVE], "moved"),
        )
        if number
    ]
    saved = "Days away saved. Nothing is offered on them."
    said = [saved if away.is_whole_days else "Hours cleared. Nothing is offered in them."]
    if parts:
        said.append(f"Done: {', '.join(parts)}. Everybody in them gets an email.")
    return " ".join(said)


@login_required
@require_safe
def cleared(request: HttpRequest) -> HttpResponse:
    """The lessons for which other times are to be proposed, once their hours are cleared."""
    shown = called_off_named(request)
    shown["rows"] = [row for row in shown["rows"] if row.meeting.is_cancelled]
    return render(request, "levare/cleared.html", shown)


def called_off_named(request: HttpRequest) -> dict[str, Any]:
    """The instructor's meetings that the address of a page names, as `address_naming` writes it."""
    instructor = whose(request)
    named = request.GET.get("meetings", "").split(",")[:MOST_LISTED]
    ids = [read_id(text) for text in named if text]
    return {
        "rows": to_reinstate(instructor, ids, reader=user_of(request), now=clock.now()),
        "zone": zone_of_hours(instructor),
        "back": address_of(instructor, request),
    }


def address_naming(page: str, instructor_id: int, ids: Sequence[int]) -> str:
    """The address of a page about these meetings, the first MOST_LISTED of them."""
    listed = ",".join(str(pk) for pk in ids[:MOST_LISTED])
    return f"{reverse(page)}?instructor={instructor_id}&meetings={listed}"
