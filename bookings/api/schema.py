"""How a call is described: the problems it may answer with and the header fields every write takes."""

from typing import Any, cast

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter

from bookings.api.calls import Call
from bookings.api.conditions import HONOURED, NEEDED
from bookings.api.problems import MEDIA_TYPE, Problem

WRITES = {"POST", "PUT", "PATCH", "DELETE"}
_KEY = OpenApiParameter(
    "Idempotency-Key",
    {"type": "string", "pattern": '^"[ !#-\\[\\]-~]{1,255}"$'},
    OpenApiParameter.HEADER,
    description="A quoted string. A retry with the same key within 24 hours has no second effect and gets the same answer.",
)
_IF_NONE_MATCH = OpenApiParameter(
    "If-None-Match",
    OpenApiTypes.STR,
    OpenApiParameter.HEADER,
    description="The ETag of what you have. Where reading it again would bring nothing new, 304.",
)
_MATCHES = {
    NEEDED: OpenApiParameter(
        "If-Match",
        OpenApiTypes.STR,
        OpenApiParameter.HEADER,
        required=True,
        description="The ETag of what you read, or * for whatever it is by now. Without it 428; where it has changed since, 412.",
    ),
    HONOURED: OpenApiParameter(
        "If-Match",
        OpenApiTypes.STR,
        OpenApiParameter.HEADER,
        description="The ETag of what you read. Where it has changed since, 412.",
    ),
}


class BearerScheme(OpenApiAuthenticationExtension):
    """Tokens of tokens/."""

    target_class = "bookings.api.calls.Bearer"
    name = "token"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        return {"type": "http", "scheme": "bearer"}


class ProblemSchema(AutoSchema):
    """Adds what all calls share."""

    def get_tags(self) -> list[str]:
        return [self.path.removeprefix("/api/v1/").split("/")[0]]

    def get_override_parameters(self) -> list[Any]:
        if self.method == "GET" and cast(Call, self.view).has_etag:
            return [_IF_NONE_MATCH]
        if self.method not in WRITES or "/tokens/" in self.path:
            return []
        match = cast(Call, self.view).if_match.get(self.method)
        return [_KEY] if match is None else [_KEY, _MATCHES[match]]

    def get_request_serializer(self) -> Any:
        return None if self.method == "DELETE" else super().get_request_serializer()

    def _get_request_body(self, direction: Any = "request") -> Any:
        """A DELETE has a body where its call names one; the library leaves it out (RFC 9110 section 9.3.5 does not forbid it)."""
        if self.method != "DELETE" or self.get_request_serializer() is None:
            return super()._get_request_body(direction)
        self.method = "POST"
        try:
            return super()._get_request_body(direction)
        finally:
            self.method = "DELETE"

    def _get_response_bodies(self, direction: Any = "response") -> dict[str, Any]:
        bodies: dict[str, Any] = super()._get_response_bodies(direction)
        if self.method == "GET" and cast(Call, self.view).has_etag:
            bodies["304"] = {"description": "What you have is what is there"}
        problem = self.resolve_serializer(Problem, direction).ref
        for status in (
            "400",
            "401",
            "403",
            "404",
            "409",
            "412",
            "413",
            "415",
            "422",
            "428",
            "429",
            "503",
        ):
            bodies[status] = {
                "description": "A problem (RFC 9457)",
                "content": {MEDIA_TYPE: {"schema": problem}},
            }
        return bodies
