"""What describes the API: its schema, its documents, its problems; and the answer to every address that is not there."""

from typing import Any

from csp.decorators import csp_update
from django.http import HttpResponseBase
from django.utils.decorators import method_decorator
from drf_spectacular.utils import extend_schema
from drf_spectacular.views import SpectacularAPIView, SpectacularSwaggerSplitView
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response

from bookings.api.calls import Call
from bookings.domain.errors import CODES, Refused


class Schema(SpectacularAPIView):
    """The OpenAPI document."""

    authentication_classes: list[Any] = []


@method_decorator(csp_update({"style-src": ["'self'", "'unsafe-inline'"]}), name="dispatch")
class Docs(SpectacularSwaggerSplitView):
    """The schema to read and try. Its page styles itself inline; its scripts come from files like everywhere else."""

    authentication_classes: list[Any] = []
    url_name = "schema"


class ProblemPage(Call):
    """What a problem's `type` leads to."""

    permission_classes = [AllowAny]

    @extend_schema(exclude=True)
    def get(self, request: Request, code: str) -> Response:
        if code not in CODES:
            raise Refused("not-found", "There is no problem of that name.")
        status, title = CODES[code]
        return Response({"code": code, "title": title, "status": status})


@extend_schema(exclude=True)
class Nothing(Call):
    """Every other address under /api/, whatever the method."""

    permission_classes = [AllowAny]

    def dispatch(self, request: Any, *args: Any, **kwargs: Any) -> HttpResponseBase:
        self.http_method_names = [request.method.lower()]
        setattr(self, request.method.lower(), self.nothing)
        return super().dispatch(request, *args, **kwargs)

    def nothing(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        raise Refused("not-found", "There is nothing at this address; addresses end in a slash.")
