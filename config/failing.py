"""What is answered where nothing else could answer: a database that is away is "busy", everything else is a fault of ours."""

import sys

from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string
from django.views.defaults import server_error as fault

from bookings import door
from bookings.api import problems


def server_error(request: HttpRequest) -> HttpResponse:
    """Django's handler500, called while the exception is handled. It asks the database nothing."""
    error = sys.exc_info()[1]
    refusal = door.outage(error) if isinstance(error, Exception) else None
    is_program = request.path.startswith("/api/")
    if refusal is None:
        return problems.fault(request) if is_program else fault(request)
    if is_program:
        return problems.respond(refusal, request.path)
    headers = {"Retry-After": str(refusal.data["retry_after"]), "Cache-Control": "no-store"}
    return HttpResponse(
        render_to_string("503.html", {"refusal": refusal}), status=refusal.status, headers=headers
    )
