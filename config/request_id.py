"""One id for a request, from the proxy in front of the product to the tasks that follow."""

import re
import uuid
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

# Proxies send a UUID, a number or hex digits. Any other text could forge a log line or fill the
# log.
_SAFE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{7,63}")


class RequestId:
    """Uses the X-Request-ID of the request if it is safe (8 to 64 letters, digits, ". _ -"), else
    makes one.

    The response carries it too.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        came = request.META.get("HTTP_X_REQUEST_ID", "")
        # The logging middleware comes next and logs the id in this header.
        request_id = came if _SAFE.fullmatch(came) else uuid.uuid4().hex
        request.META["HTTP_X_REQUEST_ID"] = request_id
        response = self._get_response(request)
        response["X-Request-ID"] = request_id
        return response
