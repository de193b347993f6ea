"""Asking once more before an hour is taken that the family has marked “never”."""

from typing import Any

from django.http import HttpRequest

from accounts.models import Student
from bookings.domain.timeline import Period
from bookings.domain.weekly_costs import NEVER, Hour
from bookings.queries.student_times import hour_of

NOTHING_ASKED = {"never_words": "", "not_ticked": False}
"""For an instructor who books: they read nothing of a family's hours."""


def asked_again(request: HttpRequest, hour: Hour) -> dict[str, Any]:
    """The context of `_never.html`: the sentence of such an hour, and whether its box is missing.

    `not_ticked` is only true of a form that was sent: it is shown again, and nothing is written.
    """
    is_never = hour.cost == NEVER
    is_sent = request.method == "POST"
    return {
        "never_words": hour.words if is_never else "",
        "not_ticked": is_never and is_sent and "knowingly" not in request.POST,
    }


def asked_again_of(request: HttpRequest, student: Student, period: Period) -> dict[str, Any]:
    """The same for one meeting; one query."""
    return asked_again(request, hour_of(student, period))
