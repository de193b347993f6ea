"""Rows that an admin looks at, and actions that call one operation for each row."""

from collections.abc import Callable, Iterable
from datetime import datetime
from functools import partial
from typing import Any, cast

from django.contrib import admin, messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from accounts.models import User
from bookings import clock
from bookings.domain.errors import Refused
from bookings.door import write


class LookOnly(admin.ModelAdmin):
    """Rows to read; what changes them is an action that calls an operation."""

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


class LookOnlyRows(admin.TabularInline):
    """Rows to read beside the row that they belong to."""

    extra = 0
    can_delete = False

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


def each_row(
    request: HttpRequest,
    rows: Iterable[Any],
    act: Callable[[Any, User, datetime], object],
    done: str,
) -> None:
    """Runs one operation for each row, in a transaction of its own.

    A refusal is shown, and the other rows go on.
    """
    actor, count = cast(User, request.user), 0
    for row in rows:
        now = clock.now()
        try:
            write(partial(act, row, actor, now), now=now)
        except Refused as refusal:
            messages.error(request, f"{row}: {refusal.detail}")
        else:
            count += 1
    if count:
        messages.success(request, f"{done}: {count}.")


def ask_why(
    request: HttpRequest, rows: QuerySet[Any], title: str, action: str
) -> str | HttpResponse:
    """The reason typed on the page in between, or that page."""
    why = request.POST.get("why", "").strip()[:200]
    if why:
        return why
    return render(
        request,
        "levare/office_why.html",
        {**admin.site.each_context(request), "title": title, "rows": rows, "action": action},
    )
