"""What every call of the API has in common."""

import json
from collections import Counter
from collections.abc import Collection, Mapping
from typing import Any, ClassVar, cast

from django.http import HttpResponse, HttpResponseBase
from knox.auth import TokenAuthentication
from knox.models import AuthToken
from rest_framework.authentication import SessionAuthentication
from rest_framework.exceptions import AuthenticationFailed, ParseError, ValidationError
from rest_framework.negotiation import BaseContentNegotiation
from rest_framework.parsers import JSONParser
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.models import User
from accounts.second_factor import session_counts, token_counts
from bookings import clock, door
from bookings.access.service_tokens import PREFIX, program_of, service_token_of
from bookings.api.conditions import NEEDED, is_known, need_version, of_bytes
from bookings.api.fields import Strict
from bookings.domain.errors import Refused
from bookings.domain.scopes import NOBODYS, Scope, lacks
from bookings.models import ServiceToken
from bookings.operations.service_tokens import is_worth_noting, note_use


class Bearer(TokenAuthentication):
    """Bearer tokens of people and service tokens. One that is not ASCII is an unknown token."""

    def authenticate_credentials(self, token: bytes) -> Any:
        if not token.isascii():
            raise AuthenticationFailed
        if token.startswith(PREFIX.encode()):
            return _program(token.decode())
        return super().authenticate_credentials(token)

    def _cleanup_token(self, auth_token: Any) -> bool:
        """Whether this token has expired; then it is deleted.

        The library would look through all tokens of the person on every call. The clock is that of
        the machine, which set the expiry: the demo's clock is months ahead.
        """
        is_over: bool = auth_token.expiry is not None and auth_token.expiry < clock.machine()
        if is_over:
            auth_token.delete()
        return is_over


def _program(secret: str) -> tuple[User, ServiceToken]:
    """Who acts through the service token with this secret, and the token."""
    now = clock.now()
    token = service_token_of(secret, now=now)
    if token is None:
        raise AuthenticationFailed
    if is_worth_noting(token, now):
        door.write(lambda: note_use(token=token, now=now), now=now)
    return program_of(token), token


class Json(JSONParser):
    """JSON as in RFC 8259: UTF-8 whatever the charset says.

    NaN, endless nesting and a member that comes twice are refused.
    """

    def parse(self, stream: Any, media_type: str | None = None, parser_context: Any = None) -> Any:
        def refuse(name: str) -> None:
            raise ValueError(name)

        try:
            return json.loads(
                stream.read().decode(), parse_constant=refuse, object_pairs_hook=_each_once
            )
        except (ValueError, RecursionError) as error:
            raise ParseError from error


def _each_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """An object from its members.

    Readers take either of two members of one name (RFC 7493 section 2.3), so both are refused.
    """
    members = dict(pairs)
    if len(members) < len(pairs):
        twice = next(
            name for name, count in Counter(name for name, _ in pairs).items() if count > 1
        )
        raise Refused("malformed", f"The member {twice[:60]!r} comes twice: send it once.")
    return members


class AlwaysJson(BaseContentNegotiation):
    """Always JSON, or the one kind of file that the address names. Nothing is negotiated."""

    def select_parser(self, request: Request, parsers: Any) -> Any:
        kind = (request.content_type or "").partition(";")[0].strip().lower()
        return parsers[0] if kind == "application/json" else None

    def select_renderer(
        self, request: Request, renderers: Any, format_suffix: str | None = None
    ) -> Any:
        return renderers[0], renderers[0].media_type


def _verb(request: Request) -> str:
    """The verb that answers: that of GET for HEAD."""
    return "GET" if request.method == "HEAD" else request.method or ""


class NoFields(Strict):
    """A query string or a body that has to be empty."""


class ApiView(APIView):
    """One address.

    Reads the body once and whole, refuses what it would drop, and forbids caching.
    """

    authentication_classes: list[Any] = [Bearer, SessionAuthentication]
    content_negotiation_class = AlwaysJson
    parser_classes = [Json]
    http_method_names = ["get", "head", "post", "put", "patch", "delete"]  # Allow names these alone
    queries: ClassVar[Collection[str]] = ()
    bodies: ClassVar[Collection[str]] = ()
    """The verbs that read a query string, and those that read a body.

    What any other verb is sent there is refused.
    """
    if_match: ClassVar[Mapping[str, str]] = {}
    """The verbs that change what somebody has read, and whether If-Match is needed or honoured."""

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        # Read first, so that the door can take its fingerprint. It may raise RequestDataTooBig.
        _ = request.body
        try:
            super().initial(request, *args, **kwargs)
        except AuthenticationFailed:
            # The framework throttles after it has let somebody in, so wrong tokens would not count.
            self.check_throttles(request)
            raise
        _need_second_factor(request)
        self._need_scope(request)
        if self.if_match.get(request.method or "") == NEEDED:
            need_version(request)
        self.judge(request)

    def _need_scope(self, request: Request) -> None:
        """Refuses a service token that is not for this call: the one place that judges it."""
        verb = getattr(self, _verb(request).lower(), None)
        if not isinstance(request.auth, ServiceToken) or verb is None:
            return
        scope = verb.declared.scope
        if not isinstance(scope, Scope):
            raise Refused("not-allowed", NOBODYS)
        if scope.value not in request.auth.scopes:
            raise Refused("not-allowed", lacks(scope))

    def judge(self, request: Request) -> None:
        """Refuses a query string or a body that this call does not read."""
        verb = _verb(request)
        if not hasattr(self, verb.lower()):
            return  # another refusal follows
        if verb not in self.queries:
            asked(request, NoFields)
        if verb not in self.bodies:
            body(request, NoFields)

    def finalize_response(self, request: Request, response: Any, *args: Any, **kwargs: Any) -> Any:
        response = super().finalize_response(request, response, *args, **kwargs)
        response.setdefault("Cache-Control", "private, no-store")
        if request.method in ("GET", "HEAD") and "ETag" in response.headers:
            return _unless_known(request, response)
        return response


def _need_second_factor(request: Request) -> None:
    """Refuses a session or a token given without the second factor that its owner needs."""
    user = request.user
    # A service token was made by an admin whose session had passed the second factor.
    if not isinstance(user, User) or isinstance(request.auth, ServiceToken):
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


def _unless_known(request: Request, response: Response) -> HttpResponseBase:
    """The answer with the tag of its bytes, or 304 if the caller has them.

    RFC 9110 section 15.4.5.
    """
    response.headers["ETag"] = tag = of_bytes(response.headers["ETag"], response.render().content)
    if not is_known(request, tag):
        return response
    kept = ("ETag", "Cache-Control", "Vary")
    return HttpResponse(
        status=304, headers={name: response[name] for name in kept if response.has_header(name)}
    )


def me(request: Request) -> User:
    """Who asks."""
    return cast(User, request.user)


def body(request: Request, form: type[Strict]) -> dict[str, Any]:
    """The values of the body, checked.

    The framework's ValidationError becomes a problem with pointers.
    """
    read = form(data=request.data)
    read.is_valid(raise_exception=True)
    return dict(read.validated_data)


def asked(request: Request, form: type[Strict]) -> dict[str, Any]:
    """The values of the query string, checked. A name that comes twice is refused."""
    twice = [name for name, values in request.query_params.lists() if len(values) > 1]
    if twice:
        raise ValidationError({name: ["This comes twice: send it once."] for name in twice})
    read = form(data=request.query_params.dict())
    read.is_valid(raise_exception=True)
    return dict(read.validated_data)
