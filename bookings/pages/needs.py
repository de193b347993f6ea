"""Needs you now: an admin's start page, and all that there is of one kind."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from bookings import clock
from bookings.access import not_there
from bookings.domain.needs import Need
from bookings.domain.news import counted
from bookings.pages.need_words import WORDS, page_of, page_of_all
from bookings.pages.pagination import paginate
from bookings.pages.signed_in import user_of
from bookings.queries.needs import PAGE_OF, Needed, needed_of, needs_now
from bookings.queries.needs_rows import NeedRow, as_rows


@login_required
@require_GET
def needs(request: HttpRequest) -> HttpResponse:
    """Each kind counted, the first of it by name with the way to the act, and a way to all."""
    user = user_of(request)
    found = needs_now(user, now=clock.now())
    context = {
        "kinds": [_kind(one, user.zone) for one in found],
        "sum": counted(sum(one.count for one in found), "thing").capitalize(),
    }
    return render(request, "levare/needs.html", context)


@login_required
@require_GET
def needs_of(request: HttpRequest, kind: str) -> HttpResponse:
    """All of one kind, the most pressing first."""
    if kind not in list(Need):
        raise not_there()
    user, need = user_of(request), Need(kind)
    rows = needed_of(user, need, now=clock.now())
    shown = paginate(rows, request.GET.get("page"), size=PAGE_OF)
    context = {
        "title": WORDS[need].title,
        "shown": replace(shown, rows=_lines(as_rows(shown.rows), user.zone)),
    }
    return render(request, "levare/needs_of.html", context)


def _kind(one: Needed, here: str) -> dict[str, Any]:
    words = WORDS[one.need]
    ending = "es" if words.noun.endswith("s") else "s"
    noun = words.noun if one.count == 1 else f"{words.noun}{ending}"
    return {
        "title": words.title,
        "count": one.count,
        "noun": noun,
        "rows": _lines(one.first, here),
        "all_at": page_of_all(one.need),
    }


def _lines(rows: Iterable[NeedRow], here: str) -> list[dict[str, str]]:
    """Each row as a line: its name, the page of the act, and the rest in words."""
    return [
        {"name": row.name, "page": page_of(row), "says": WORDS[row.need].says(row, here)}
        for row in rows
    ]
