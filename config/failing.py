"""Responses when a view fails: 503 while the database is away, 500 for a fault, 429 for too many
requests.
"""

import sys

from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string
from django.views.defaults import server_error as fault

from bookings import door
from bookings.api import problems
from bookings.pages.middleware import too_many


def server_error(request: HttpRequest) -> HttpResponse:
    """Django's handler500, called while the exception is handled. It makes no query."""
    error = sys.exc_info()[1]
    refusal = door.outage(error) if isinstance(error, Exception) else None
    is_program = request.path.startswith("/api/")
    if refusal is None:
        return problems.fault(request) if is_program else fault(request)
    if is_program:
        return problems.respond(refusal, request.path)
    headers = {"Retry-After": str(refusal.data["retry_after"]), "Cache-Control": "no-store"}
    return HttpResponse(
        render_to_string("levare/503.html", {"refusal": refusal}),
        status=refusal.status,
        headers=headers,
    )


def too_many_requests(request: HttpRequest) -> HttpResponse:
    """The handler429 that the account library looks for. All its limits are by the minute."""
    return too_many(request, "There were too many requests. Wait a minute, then try again.", 60)
