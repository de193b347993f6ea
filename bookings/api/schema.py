"""How a call is described.

What it takes, the header fields it sends, and the problems that it may answer with.
"""

import inspect
from typing import Any, cast

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.settings import spectacular_settings
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, PolymorphicProxySerializer
from rest_framework.permissions import AllowAny

from bookings.api import problem_schemas
from bookings.api.conditions import HONOURED, NEEDED
from bookings.api.field_schemas import refine
from bookings.api.fields import Strict
from bookings.api.operation import HEADERS, declared
from bookings.api.paging import PageAsked
from bookings.api.views import ApiView
from bookings.domain.scopes import Scope

WRITES = {"POST", "PUT", "PATCH", "DELETE"}
MOST_DIGITS = 15  # of an id in an address: bookings.api.urls.IdConverter
_KEY = OpenApiParameter(
    "Idempotency-Key",
    {"type": "string", "pattern": '^"[ !#-\\[\\]-~]{1,255}"$'},
    OpenApiParameter.HEADER,
    description="A quoted string. A retry with the same key within 24 hours has no second effect "
    "and gets the same answer; of an answer that held a secret or a note, 409 `already-done` "
    "with the address where to read on.",
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
        description="The ETag of what you read, or * for whatever it is by now. "
        "Without it 428; where it has changed since, 412.",
    ),
    HONOURED: OpenApiParameter(
        "If-Match",
        OpenApiTypes.STR,
        OpenApiParameter.HEADER,
        description="The ETag of what you read. Where it has changed since, 412.",
    ),
}
_PROBLEM_HEADERS = {
    401: {"WWW-Authenticate": ("How to sign in.", {"type": "string"})},
    429: {"Retry-After": ("Seconds to wait.", {"type": "integer"})},
    503: {"Retry-After": ("Seconds to wait.", {"type": "integer"})},
}


class BearerScheme(OpenApiAuthenticationExtension):
    """Tokens of tokens/, and service tokens."""

    target_class = "bookings.api.views.Bearer"
    name = "token"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        return {"type": "http", "scheme": "bearer"}


_NEEDED = "A service token needs the scope `{}`."
_PEOPLE = "No service token may use this."


class ProblemSchema(AutoSchema):
    """Adds what all calls share."""

    def get_tags(self) -> list[str]:
        prefix = str(spectacular_settings.SCHEMA_PATH_PREFIX)
        return [self.path.removeprefix(prefix).split("/")[1]]

    def get_description(self) -> str:  # type: ignore[override]  # as the library's own
        """What the call says of itself; of a list, which filters it has and in which order its rows
        come; and, at the end, what a service token needs.
        """
        said = [super().get_description()]
        listing = declared(self.view, self.method).listing
        if listing is not None:
            if set(listing().fields) > set(PageAsked().fields):
                said.append(f"Filters: {inspect.getdoc(listing)}")
            said.append(f"Order: {listing.in_order}")
        scope = declared(self.view, self.method).scope
        if self._signs_in():
            said.append(_NEEDED.format(scope.value) if isinstance(scope, Scope) else _PEOPLE)
        return "\n\n".join(filter(None, said))

    def get_override_parameters(self) -> list[Any]:
        if self._has_etag():
            return [_IF_NONE_MATCH]
        if self.method not in WRITES or "/tokens/" in self.path:
            return []
        match = cast(ApiView, self.view).if_match.get(self.method)
        return [_KEY] if match is None else [_KEY, _MATCHES[match]]

    def get_request_serializer(self) -> Any:
        return None if self.method == "DELETE" else super().get_request_serializer()

    def _resolve_path_parameters(self, variables: list[str]) -> list[dict[str, Any]]:
        """Every place in an address is for an id."""
        number = {
            "type": "integer",
            "format": "int64",
            "minimum": 1,
            "maximum": 10**MOST_DIGITS - 1,
        }
        return [
            {"in": "path", "name": variable, "schema": number, "required": True}
            for variable in variables
        ]

    def _get_request_body(self, direction: Any = "request") -> Any:
        """A DELETE has a body where its call names one: RFC 9110 section 9.3.5 does not forbid it.

        The library leaves that out, and that a body of one of two forms is needed.
        """
        if self.method not in WRITES:
            return super()._get_request_body(direction)
        form, verb = self.get_request_serializer(), self.method
        self.method = "POST" if verb == "DELETE" and form is not None else verb
        try:
            described = super()._get_request_body(direction)
        finally:
            self.method = verb
        if described is not None and isinstance(form, PolymorphicProxySerializer):
            described["required"] = True
        return described

    def _map_basic_serializer(self, serializer: Any, direction: Any) -> Any:
        """The object of a request allows no member beside those it names."""
        schema = super()._map_basic_serializer(serializer, direction)
        if isinstance(serializer, Strict) and direction == "request":
            schema["additionalProperties"] = False
        return schema

    def _map_serializer_field(
        self, field: Any, direction: Any, bypass_extensions: Any = False
    ) -> Any:
        schema = super()._map_serializer_field(field, direction, bypass_extensions)
        return refine(field, schema) if direction == "request" else schema

    def _get_response_headers_for_code(self, status_code: Any, direction: Any = "response") -> Any:
        return {
            name: {
                "description": HEADERS[name][0],
                "required": True,
                "schema": {"type": "string", "pattern": HEADERS[name][1]},
            }
            for name in declared(self.view, self.method).headers
        }

    def _get_response_bodies(self, direction: Any = "response") -> dict[str, Any]:
        bodies: dict[str, Any] = super()._get_response_bodies(direction)
        if self._has_etag():
            bodies["304"] = {
                "description": "What you have is what is there",
                "headers": self._get_response_headers_for_code("200"),
            }
        for status in sorted(self._refused()):
            problem = problem_schemas.described(self, status)
            headers = _PROBLEM_HEADERS.get(status, {})
            if status == 401 and not self._signs_in():
                headers = {}
            if headers:
                problem["headers"] = {
                    name: {"description": said, "required": True, "schema": shape}
                    for name, (said, shape) in headers.items()
                }
            bodies[str(status)] = problem
        return bodies

    def _has_etag(self) -> bool:
        """Whether reading is answered with an ETag, and with 304 where If-None-Match names it."""
        return self.method == "GET" and "ETag" in declared(self.view, self.method).headers

    def _signs_in(self) -> bool:
        """Whether the call is for those who are signed in."""
        return AllowAny not in self.view.permission_classes

    def _refused(self) -> set[int]:
        """The statuses of the problems that the call may answer with."""
        found = {429, 503, *declared(self.view, self.method).refused}
        if self._signs_in():
            found |= {401, 403}  # a service token without the scope; a session without its token
        if "{" in self.path:
            found.add(404)
        found.add(422)  # what is not read is refused: a parameter, a member
        if self.method in WRITES:
            found |= {400, 413, 415}
        match = cast(ApiView, self.view).if_match.get(self.method)
        return found | {None: set(), HONOURED: {412}, NEEDED: {412, 428}}[match]
