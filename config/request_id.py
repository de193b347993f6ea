"""One id for a request, from the proxy in front to the task that follows from it."""

import re
import uuid
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

# What proxies send: a UUID, a number, hex digits. Anything else could forge a log line or fill the log.
_SAFE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{7,63}")


class RequestId:
    """Takes the X-Request-ID that came where its shape is safe (8 to 64 letters, digits, ". _ -"), else makes one; answers with it."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        came = request.META.get("HTTP_X_REQUEST_ID", "")
        # The logging middleware, which comes next, binds what it finds in this header.
        request.META["HTTP_X_REQUEST_ID"] = request_id = (
            came if _SAFE.fullmatch(came) else uuid.uuid4().hex
        )
        response = self._get_response(request)
        response["X-Request-ID"] = request_id
        return response
