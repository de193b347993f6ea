"""What describes the API: its schema, its pages and its problems.

Every other address under /api/ is answered here too.
"""

import threading
from functools import cache
from typing import Any

from csp.decorators import csp_update
from django.http import HttpResponse
from django.utils.decorators import method_decorator
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.utils import extend_schema
from drf_spectacular.views import SpectacularAPIView, SpectacularSwaggerSplitView
from rest_framework.exceptions import NotAcceptable
from rest_framework.negotiation import DefaultContentNegotiation
from rest_framework.permissions import AllowAny
from rest_framework.renderers import BaseRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from bookings.api.views import ApiView
from bookings.domain.errors import CODES, Refused

_one_at_a_time = threading.Lock()
_written: dict[str, bytes] = {}


@cache
def document() -> dict[str, Any]:
    """The OpenAPI document. Call it under the lock.

    The library's generator keeps its state in the views and is not safe in threads.
    """
    return dict(SchemaGenerator().get_schema(request=None, public=True))


def written(renderer: BaseRenderer) -> bytes:
    """The OpenAPI document in one notation, kept. Call it under the lock."""
    if renderer.media_type not in _written:
        text: bytes | str = renderer.render(document(), renderer.media_type, {})
        _written[renderer.media_type] = text.encode() if isinstance(text, str) else text
    return _written[renderer.media_type]


class Anyway(DefaultContentNegotiation):
    """The media type that was asked for, else the first there is.

    RFC 9110 section 12.5.1 leaves this to the server.
    """

    def select_renderer(
        self, request: Request, renderers: Any, format_suffix: str | None = None
    ) -> Any:
        try:
            return super().select_renderer(request, renderers, format_suffix)
        except NotAcceptable:
            return renderers[0], renderers[0].media_type


class Schema(SpectacularAPIView):
    """The OpenAPI document, written once a process: it is the same for everybody."""

    http_method_names = ["get", "head"]
    content_negotiation_class = Anyway
    authentication_classes: list[Any] = []

    def _get_schema_response(self, request: Request) -> HttpResponse:
        renderer = request.accepted_renderer
        with _one_at_a_time:
            body = written(renderer)
        charset = f"; charset={renderer.charset}" if renderer.charset else ""
        return HttpResponse(
            body,
            content_type=renderer.media_type + charset,
            headers={
                "Content-Disposition": f'inline; filename="{self._get_filename(request, None)}"'
            },
        )


@method_decorator(csp_update({"style-src": ["'self'", "'unsafe-inline'"]}), name="dispatch")
class Docs(SpectacularSwaggerSplitView):
    """The schema to read and try.

    The page has inline styles. Its scripts come from files, as everywhere else.
    """

    http_method_names = ["get", "head"]
    content_negotiation_class = Anyway
    authentication_classes: list[Any] = []
    url_name = "api:schema"


class ProblemPage(ApiView):
    """What a problem's `type` leads to."""

    permission_classes = [AllowAny]

    @extend_schema(exclude=True)
    def get(self, request: Request, code: str) -> Response:
        if code not in CODES:
            raise Refused("not-found", "There is no problem of that name.")
        status, title = CODES[code]
        return Response({"code": code, "title": title, "status": status})


@extend_schema(exclude=True)
class Nothing(ApiView):
    """Every other address under /api/, whatever the method."""

    permission_classes = [AllowAny]

    def judge(self, request: Request) -> None:
        raise Refused("not-found", "There is nothing at this address; addresses end in a slash.")
