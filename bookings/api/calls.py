"""What every call of the API has in common."""

import json
from collections.abc import Callable, Iterable, Mapping
from typing import Any, ClassVar, TypeVar, cast

from django.db.models import Model, QuerySet
from django.utils.dateparse import parse_datetime
from knox.auth import TokenAuthentication
from knox.models import AuthToken
from rest_framework.authentication import SessionAuthentication
from rest_framework.exceptions import AuthenticationFailed, ParseError
from rest_framework.negotiation import BaseContentNegotiation
from rest_framework.pagination import CursorPagination
from rest_framework.parsers import JSONParser
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.models import User
from accounts.second_factor import session_counts, token_counts
from bookings import clock
from bookings.api.conditions import NEEDED, need_version
from bookings.api.fields import Strict
from bookings.domain.errors import Refused

M = TypeVar("M", bound=Model)


class Bearer(TokenAuthentication):
    """Tokens that are not text are unknown tokens, and reading one costs no more than it must."""

    def authenticate_credentials(self, token: bytes) -> Any:
        if not token.isascii():
            raise AuthenticationFailed
        return super().authenticate_credentials(token)

    def _cleanup_token(self, auth_token: Any) -> bool:
        """Whether the token that came has expired; the person's others are not looked through on every call, as the library would.

        By the machine's clock, which set the expiry: the demo's runs months ahead of it.
        """
        is_over: bool = auth_token.expiry is not None and auth_token.expiry < clock.machine()
        if is_over:
            auth_token.delete()
        return is_over


class Json(JSONParser):
    """JSON as RFC 8259 has it: UTF-8 whatever the charset says, no NaN, and no nesting without end."""

    def parse(self, stream: Any, media_type: str | None = None, parser_context: Any = None) -> Any:
        def refuse(name: str) -> None:
            raise ValueError(name)

        try:
            return json.loads(stream.read().decode(), parse_constant=refuse)
        except (ValueError, RecursionError) as error:
            raise ParseError from error


class AlwaysJson(BaseContentNegotiation):
    """Every answer is JSON, or the one kind of file that its address names: there is nothing to negotiate."""

    def select_parser(self, request: Request, parsers: Any) -> Any:
        kind = (request.content_type or "").partition(";")[0].strip().lower()
        return parsers[0] if kind == "application/json" else None

    def select_renderer(
        self, request: Request, renderers: Any, format_suffix: str | None = None
    ) -> Any:
        return renderers[0], renderers[0].media_type


class Call(APIView):
    """One address. Reads the body once and whole, and lets nobody keep the answer."""

    authentication_classes: list[Any] = [Bearer, SessionAuthentication]
    content_negotiation_class = AlwaysJson
    parser_classes = [Json]
    metadata_class = None
    if_match: ClassVar[Mapping[str, str]] = {}
    """The verbs that change what somebody has read, and whether each needs If-Match or honours it where it comes."""

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        _ = (
            request.body
        )  # raises RequestDataTooBig; read first, so that the door can take its fingerprint
        super().initial(request, *args, **kwargs)
        _need_second_factor(request)
        if self.if_match.get(request.method or "") == NEEDED:
            need_version(request)

    def finalize_response(self, request: Request, response: Any, *args: Any, **kwargs: Any) -> Any:
        response = super().finalize_response(request, response, *args, **kwargs)
        response.setdefault("Cache-Control", "private, no-store")
        return response


def _need_second_factor(request: Request) -> None:
    """Refuses a session or a token given without the second factor that its owner needs."""
    user = request.user
    if not isinstance(user, User):
        return
    let_in = (
        token_counts(user, request.auth.created)
        if isinstance(request.auth, AuthToken)
        else session_counts(request._request, user)
    )
    if not let_in:
        raise Refused(
            "not-signed-in",
            "Instructors and admins need a second factor: sign in again with its code.",
        )


def me(request: Request) -> User:
    """Who asks."""
    return cast(User, request.user)


def body(request: Request, form: type[Strict]) -> dict[str, Any]:
    """The values of the body, checked; the framework's ValidationError becomes a problem with pointers."""
    read = form(data=request.data)
    read.is_valid(raise_exception=True)
    return dict(read.validated_data)


def asked(request: Request, form: type[Strict]) -> dict[str, Any]:
    """The values of the query string, checked; of one given twice the last counts."""
    read = form(data={name: request.query_params[name] for name in request.query_params})
    read.is_valid(raise_exception=True)
    return dict(read.validated_data)


class Pages(CursorPagination):
    """Cursor pages: `results` and the addresses of the `next` and `previous` page. A cursor is opaque."""

    page_size = 50
    max_page_size = 200
    page_size_query_param = "page_size"

    def decode_cursor(self, request: Request) -> Any:
        cursor = super().decode_cursor(request)
        # Positions are instants or ids; one that was made up would reach the database.
        if (
            cursor is not None
            and cursor.position is not None
            and not _is_position(str(cursor.position))
        ):
            raise Refused(
                "invalid", "Follow `next` and `previous` as they are given.", field="cursor"
            )
        return cursor


def _is_position(text: str) -> bool:
    if text.isascii() and text.isdigit():
        return len(text) < 16
    try:
        return parse_datetime(text) is not None
    except ValueError:
        return False


def page(
    request: Request,
    view: APIView,
    rows: QuerySet[M],
    ordering: tuple[str, ...],
    shown: Callable[[list[M]], Iterable[Any]],
) -> Response:
    """One cursor page of `rows` in that order, each as `shown` says it."""
    pages = Pages()
    pages.ordering = ordering
    found = pages.paginate_queryset(rows, request, view)
    return pages.get_paginated_response(list(shown(found or [])))
