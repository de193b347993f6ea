"""Refusals as RFC 9457 problem documents, whoever refused: a rule, a field, or the framework."""

import json
from collections.abc import Iterator, Mapping
from math import ceil
from typing import Any
from urllib.parse import quote

from django.core.exceptions import RequestDataTooBig
from django.http import Http404, HttpRequest, HttpResponse
from rest_framework import exceptions, serializers
from rest_framework.views import set_rollback

from accounts.guesses import TooManyGuesses
from accounts.models import User
from bookings import door
from bookings.domain.errors import CODES, Refused
from bookings.domain.explain import code_for_student

MEDIA_TYPE = "application/problem+json"
# What the framework's own field errors are called here; every other one is "invalid".
_FIELD_CODES = {
    "null_characters_not_allowed": "control-characters",
    "surrogate_characters_not_allowed": "control-characters",
}
_FRAMEWORK: Mapping[type[Exception], tuple[str, str]] = {
    exceptions.ParseError: ("malformed", "Send one JSON object in UTF-8."),
    exceptions.UnsupportedMediaType: (
        "wrong-media-type",
        "Send JSON, as Content-Type: application/json.",
    ),
    exceptions.MethodNotAllowed: (
        "method-not-allowed",
        "The Allow header names the methods that this address takes.",
    ),
    exceptions.NotFound: ("not-found", "There is nothing at this address that you may see."),
    exceptions.NotAuthenticated: (
        "not-signed-in",
        "Send a token: Authorization: Bearer, then the token that tokens/ gave you.",
    ),
    exceptions.AuthenticationFailed: (
        "not-signed-in",
        "This token is unknown or has expired: get a new one from tokens/.",
    ),
    exceptions.PermissionDenied: (
        "not-allowed",
        "This needs another role, or a token instead of a page's session.",
    ),
    exceptions.Throttled: (
        "too-many-requests",
        "Too many requests in a short time: wait, then try again.",
    ),
    Http404: ("not-found", "There is nothing at this address that you may see."),
    RequestDataTooBig: ("too-large", "Send less: no request here needs that much."),
}


# What a member is called below, where that is not its name on the wire.
_ON_THE_WIRE = {
    "call_off_why": "call_off_reason",
    "changeover_minutes": "own_changeover_minutes",
    "fields": "missing",
    "next_wall_at": "next_wall_time",
    "position": "index",
    "waiting": "waiting_places",
    "wall_at": "wall_time",
}


class FieldProblem(serializers.Serializer):
    """One field's error.

    `pointer` is a JSON pointer (RFC 6901) into the body, or names a parameter.
    """

    detail = serializers.CharField()
    pointer = serializers.CharField()


UNTOLD = {"strangers", "student"}
"""Data of a refusal that no problem document holds: the door and the register read it."""


def on_the_wire(name: str) -> str:
    """The API's name of a member; operations may have another."""
    return _ON_THE_WIRE.get(name, name)


def document(refusal: Refused, path: str, **extra: Any) -> dict[str, Any]:
    """The problem document of a refusal of the request at `path`.

    Members of `extra` replace those of the refusal with the same name. The field of a refusal may
    be a path, such as "guardians/1".
    """
    data = {
        on_the_wire(name): value
        for name, value in {**refusal.data, **extra}.items()
        if name not in UNTOLD
    }
    field, *below = data.pop("field", "").split("/")
    if field and "errors" not in data:
        named = _pointer([on_the_wire(field), *below])
        data["errors"] = [{"detail": refusal.detail, "pointer": named}]
    return {
        **data,
        "type": f"/api/problems/{refusal.code}/",
        "title": refusal.title,
        "status": refusal.status,
        "detail": refusal.detail,
        "code": refusal.code,
        "instance": path,
    }


def told_to(user: User, refusal: Refused) -> Refused:
    """The refusal as this person may read it.

    Only an admin reads which rule of an instructor's load was broken.
    """
    if user.is_staff:
        return refusal
    data = dict(refusal.data)
    if "dates" in data:
        data["dates"] = [{**day, "code": code_for_student(day["code"])} for day in data["dates"]]
    return Refused(code_for_student(refusal.code), refusal.detail, **data)


def rendered(problem: Mapping[str, Any]) -> bytes:
    """The bytes of a problem document, all ASCII.

    It may repeat what no encoding can carry, such as half a surrogate pair.
    """
    return json.dumps(problem, ensure_ascii=True, default=str).encode()


def header_fields(refusal: Refused) -> dict[str, str]:
    """Header fields that a refusal of this kind carries beside its body."""
    wait = refusal.data.get("retry_after")
    return {"Content-Type": MEDIA_TYPE, **({"Retry-After": str(wait)} if wait is not None else {})}


def handle(error: Exception, context: Mapping[str, Any]) -> HttpResponse | None:
    """The framework's exception handler; None for a fault of ours, which is a 500."""
    refusal = as_refusal(error)
    if refusal is None:
        return None
    set_rollback()
    response = respond(refusal, context["request"].path)
    if refusal.code == "not-signed-in" and getattr(error, "auth_header", None):
        response.headers["WWW-Authenticate"] = error.auth_header  # type: ignore[attr-defined]
    return response


def respond(refusal: Refused, path: str) -> HttpResponse:
    """The whole answer to the request at `path`."""
    return HttpResponse(
        rendered(document(refusal, path)), status=refusal.status, headers=header_fields(refusal)
    )


def fault(request: HttpRequest) -> HttpResponse:
    """The answer to a request that met a fault of ours.

    It holds the id under which the logs tell of the fault, and nothing else.
    """
    refusal = Refused(
        "fault",
        "Something went wrong on our side. Try again; if it happens again, tell the school the "
        "`request_id`.",
        request_id=request.META.get("HTTP_X_REQUEST_ID", ""),
    )
    response = respond(refusal, request.path)
    response.headers["Cache-Control"] = "no-store"
    return response


def as_refusal(error: Exception) -> Refused | None:
    """The refusal that an exception stands for."""
    if isinstance(error, Refused):
        return error
    if isinstance(error, exceptions.ValidationError):
        return _invalid(error)
    if isinstance(error, TooManyGuesses):
        return Refused("too-many-requests", error.detail, retry_after=error.retry_after)
    for kind, (code, sentence) in _FRAMEWORK.items():
        if isinstance(error, kind):
            wait = getattr(error, "wait", None)
            return Refused(
                code, sentence, **({"retry_after": max(1, ceil(wait))} if wait is not None else {})
            )
    return door.outage(error)


def _invalid(error: exceptions.ValidationError) -> Refused:
    """One code for the whole: that of the first error which has one of its own, else "invalid"."""
    found = list(_flat(error.get_full_details()))
    codes = [_FIELD_CODES.get(code, code) for _, _, code in found]
    special = next(
        ((place, code) for place, code in enumerate(codes) if code in CODES and code != "invalid"),
        None,
    )
    place, code = special or (0, "invalid")
    errors = [{"detail": detail, "pointer": _pointer(path)} for path, detail, _ in found]
    return Refused(
        code,
        found[place][1] if special else "Look at `errors`: each names a field and what it needs.",
        errors=errors,
    )


def _flat(
    details: Any, path: tuple[str | int, ...] = ()
) -> Iterator[tuple[tuple[str | int, ...], str, str]]:
    """(path, sentence, code) of each error in the framework's nested details."""
    if (
        isinstance(details, Mapping)
        and {"message", "code"} == set(details)
        and isinstance(details["code"], str)
    ):
        yield path, str(details["message"]), details["code"]
    elif isinstance(details, Mapping):
        for name, inner in details.items():
            yield from _flat(inner, path if name == "non_field_errors" else (*path, name))
    else:
        # A list holds the errors of one field, or one entry for each element of a sent list.
        elements = any(
            not (isinstance(inner, Mapping) and set(inner) == {"message", "code"})
            for inner in details
        )
        for position, inner in enumerate(details):
            yield from _flat(inner, (*path, position) if elements else path)


def _pointer(path: tuple[str | int, ...] | list[str]) -> str:
    """A JSON pointer as a URI fragment (RFC 6901 section 6)."""
    parts = (str(part)[:60].replace("~", "~0").replace("/", "~1") for part in path)
    return "#" + "".join("/" + quote(part, safe="~", errors="replace") for part in parts)
