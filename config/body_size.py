"""Limits on the body of a request, by route, checked before anything reads it.

Django writes the files of a form to disk before any view runs, so a view cannot refuse them. A view
that takes files declares `most_bytes`; all others take what a form needs.
"""

from collections.abc import Callable
from io import BytesIO
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from bookings.api import problems
from bookings.domain.errors import Refused


def most_bytes(view: Any) -> int:
    """The limit of a view in bytes, for functions and for views made from a class."""
    made_by = getattr(view, "cls", None) or getattr(view, "view_class", None)
    most: int | None = getattr(view, "most_bytes", getattr(made_by, "most_bytes", None))
    return settings.DATA_UPLOAD_MAX_MEMORY_SIZE if most is None else most


class BodySize:
    """413 for a body that is longer than its route takes (RFC 9110 section 15.5.14)."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self._get_response(request)

    def process_view(
        self, request: HttpRequest, view: Callable[..., HttpResponse], *_: Any
    ) -> HttpResponse | None:
        most, length = most_bytes(view), request.META.get("CONTENT_LENGTH") or ""
        if not length and "chunked" in request.headers.get("Transfer-Encoding", "").lower():
            fits = _take_chunks(request, most)
        else:
            fits = not length or (length.isdecimal() and int(length) <= most)
        return None if fits else _too_large(request)


def _take_chunks(request: HttpRequest, most: int) -> bool:
    """Reads a body sent in chunks (RFC 9112 section 7.1), up to one byte beyond the limit.

    Returns whether it fits.

    Django itself would take a body without a length for an empty one.
    """
    body: bytes = request.META["wsgi.input"].read(most + 1)
    request._stream = BytesIO(body)
    request.META["CONTENT_LENGTH"] = str(len(body))
    return len(body) <= most


def _too_large(request: HttpRequest) -> HttpResponse:
    refusal = Refused("too-large", "Send less: this address does not take that much.")
    if request.path.startswith("/api/"):
        return problems.respond(refusal, request.path)
    return render(request, "levare/refused.html", {"refusal": refusal}, status=refusal.status)
