"""Statements of hours: the list, one statement for screen and print, issuing and correcting."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from bookings import clock
from bookings.access import access_statement, require_admin, statements_of
from bookings.domain.errors import Refused
from bookings.domain.statements import Line
from bookings.domain.zones import zone
from bookings.door import write
from bookings.models import Statement, StatementCorrection, StatementLine
from bookings.operations.statements import correct_statement, issue_statement
from bookings.pages.downloads import CSV, as_file
from bookings.pages.forms.fields import is_said_at_field
from bookings.pages.forms.statements import StatementForm, StatementsForm, month_before
from bookings.pages.pagination import paginate
from bookings.pages.parameters import read_version
from bookings.pages.showing import show
from bookings.pages.signed_in import user_of
from bookings.pages.statement_files import statement_csv
from bookings.queries.statements import (
    Reckoned,
    differences,
    lines_of,
    listed,
    preview,
    statement_shown,
)

PAGE_OF = 25


@dataclass(frozen=True, slots=True)
class Part:
    """Lines with their running totals: those of the issue, or those of one correction."""

    rows: list[tuple[Line, int]]
    correction: StatementCorrection | None = None


@login_required
@require_safe
def statements(request: HttpRequest) -> HttpResponse:
    """The statements, the latest first; an admin may choose an instructor."""
    user = user_of(request)
    rows = statements_of(user)
    form = StatementsForm(request.GET)
    chosen = form.asked("instructor") if user.is_staff else None
    shown = paginate(
        listed(rows, chosen.pk if chosen else None), request.GET.get("page"), size=PAGE_OF
    )
    context = {"shown": shown, "form": form, "chosen": chosen}
    return render(request, "levare/statements.html", context)


@login_required
@require_http_methods(["GET", "POST"])
def new_statement(request: HttpRequest) -> HttpResponse:
    """GET asks for the dates, and shows the lines once they are chosen; POST issues them."""
    user, now = user_of(request), clock.now()
    require_admin(user)
    asked = request.POST if request.method == "POST" else request.GET
    today = now.astimezone(zone(user.zone)).date()
    usual = {**month_before(today), "instructor": asked.get("instructor")}
    form = StatementForm(asked if "first_on" in asked else None, initial=usual)
    if request.method == "GET" or not form.is_valid():
        return _new_page(request, form)
    version = read_version(request)
    try:
        issued = write(
            lambda: issue_statement(actor=user, **form.asked(), version=version, now=now), now=now
        )
    except Refused as refusal:
        return _new_page(request, form, refusal)
    messages.success(request, "Issued. From now on it changes by corrections only.")
    return redirect("statement", statement_id=issued.pk)


def _new_page(
    request: HttpRequest, form: StatementForm, refusal: Refused | None = None
) -> HttpResponse:
    found: Reckoned | None = None
    status = refusal.status if refusal else 200
    if form.is_bound and form.is_valid():
        try:
            found = preview(**form.asked(), now=clock.now())
        except Refused as error:
            if refusal is None:
                status, refusal = error.status, None if is_said_at_field(form, error) else error
    context = {
        "form": form,
        "asked": form.cleaned_data if found is not None else None,
        "found": found,
        "part": Part(found.rows) if found is not None else None,
        "refusal": refusal,
    }
    if status == 200 and form.errors:
        status = 422
    return render(request, "levare/new_statement.html", context, status=status)


@login_required
@require_safe
def statement(request: HttpRequest, statement_id: int) -> HttpResponse:
    """One statement with its corrections, for screen and print."""
    shown = statement_shown(access_statement(user_of(request), statement_id))
    context = {
        "statement": shown.statement,
        "shown": shown,
        "parts": _parts(shown.lines, shown.corrections),
        "differ": len({line.meeting_id for line in shown.differing}),
    }
    return render(request, "levare/statement.html", context)


def _parts(
    lines: Iterable[StatementLine], corrections: Iterable[StatementCorrection]
) -> list[Part]:
    """The lines as they were issued, then those of each correction."""
    made = {one.number: one for one in corrections}
    found = {
        number: [(line.as_line, line.total_minutes) for line in theirs]
        for number, theirs in groupby(lines, key=lambda line: line.correction)
    }
    return [Part(found.get(0, [])), *(Part(found.get(pk, []), made[pk]) for pk in sorted(made))]


@login_required
@require_http_methods(["GET", "POST"])
def correct(request: HttpRequest, statement_id: int) -> HttpResponse:
    """GET shows what differs; POST writes exactly that."""
    user, now = user_of(request), clock.now()
    require_admin(user)
    found = access_statement(user, statement_id)
    if request.method == "GET":
        return _correct_page(request, found)
    version = read_version(request)
    try:
        write(
            lambda: correct_statement(actor=user, statement=found, version=version, now=now),
            now=now,
        )
    except Refused as refusal:
        return _correct_page(request, access_statement(user, statement_id), refusal)
    messages.success(request, "Corrected. The lines as they were issued are still there.")
    return redirect("statement", statement_id=statement_id)


def _correct_page(
    request: HttpRequest, found: Statement, refusal: Refused | None = None
) -> HttpResponse:
    differing = differences(found)
    context: dict[str, Any] = {
        "statement": found,
        "found": differing,
        "part": Part(differing.rows),
        "refusal": refusal,
    }
    return show(request, "levare/correct_statement.html", context)


@login_required
@require_safe
def download(request: HttpRequest, statement_id: int) -> HttpResponse:
    """One statement as a CSV file."""
    found = access_statement(user_of(request), statement_id)
    name = f"statement-of-hours-{found.first_on}-{found.last_on}.csv"
    return as_file(name, statement_csv(lines_of(found)), CSV)
