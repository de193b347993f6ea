"""The write door of the API.

One transaction holds the record of the Idempotency-Key, the operation and its rendered answer. A
retry with the same key waits for the first request and gets its bytes
(draft-ietf-httpapi-idempotency-key-header).
"""

import hashlib
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.http import HttpResponse
from django.utils.crypto import salted_hmac
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request

from bookings import clock, door
from bookings.api import problems
from bookings.api.views import me
from bookings.domain.errors import LOAD_CODES, Refused
from bookings.models import KeptAnswer
from bookings.operations.kept_answers import claim_answer

# RFC 8941 section 3.3.3: a string of printable ASCII in quotes, with \" and \\ escaped.
_QUOTED = re.compile(r'"((?:[\x20\x21\x23-\x5b\x5d-\x7e]|\\["\\]){1,255})"')
# The refusals of a one-on-one's start that come with three starts nearby.
NEAR_CODES = frozenset(
    {
        "taken",
        "outside-hours",
        "off-grid",
        "own-clash",
        "too-soon",
        "minor-hours",
        "past",
        "too-far",
        *LOAD_CODES,
    }
)

Near = Callable[[Refused, datetime], list[dict[str, Any]]]
"""Starts nearby for this refusal, read at that time."""


@dataclass(frozen=True, slots=True)
class Result:
    """What a call answers. Where the body holds a secret or a note, `kept` is False."""

    status: int
    data: Any = None
    headers: Mapping[str, str] = field(default_factory=dict)
    kept: bool = True


@dataclass(frozen=True, slots=True)
class _Sent:
    status: int
    headers: Mapping[str, str]
    body: bytes


def answered(
    request: Request, act: Callable[[datetime], Result], *, near: Near | None = None
) -> HttpResponse:
    """Answers with the result of `act(now)`, which runs in one transaction.

    `near` finds starts nearby for a refused start, after the rollback.
    """
    now, key = clock.now(), _key(request)
    try:
        sent = door.write(lambda: _once(request, key, act, now), now=now)
    except Refused as refusal:
        sent = _refused(request, key, refusal, near, now)
    return HttpResponse(sent.body, status=sent.status, headers=dict(sent.headers))


def _key(request: Request) -> str | None:
    """The key of a write, None without one.

    GET and HEAD may be repeated, so they take no key. The reading of a note comes by this door
    because it is logged.
    """
    header = request.headers.get("Idempotency-Key")
    if header is None or request.method in ("GET", "HEAD"):
        return None
    found = _QUOTED.fullmatch(header.strip())
    if found is None:
        raise Refused(
            "key-malformed",
            "Put the Idempotency-Key in double quotes, such as "
            '"8e03978e-40d5-43e8-bc93-6894a57f9324".',
        )
    token = me(request).acts_through
    return found[1] if token is None else _key_of_program(token, found[1])


def _key_of_program(token: int, key: str) -> str:
    """A program's keys are its own: it gets no answer that its admin or another program got."""
    return hashlib.sha256(f"{token} {key}".encode()).hexdigest()


def _once(
    request: Request, key: str | None, act: Callable[[datetime], Result], now: datetime
) -> _Sent:
    if key is None:
        return _rendered(act(now))
    row = _claim(request, key, now)
    if row.status:
        return _replayed(row, request)
    result = act(now)
    sent = _rendered(result)
    _keep(row, sent if result.kept else _done_already(request, result))
    row.save()
    return sent


def _refused(
    request: Request, key: str | None, refusal: Refused, near: Near | None, now: datetime
) -> _Sent:
    nearby = _nearby(near, refusal, now)
    sent = _problem(request, problems.told_to(me(request), refusal), **nearby)
    if key is None or refusal.status not in (409, 422) or refusal.code == "key-reused":
        return sent

    def keep() -> _Sent:
        row = _claim(request, key, now)
        if row.status:  # another retry was quicker: all get its bytes
            return _replayed(row, request)
        _keep(row, sent)
        row.save()
        return sent

    try:
        return door.write(keep, now=now)
    except Refused as reused:
        return _problem(request, reused)


def _nearby(near: Near | None, refusal: Refused, now: datetime) -> dict[str, Any]:
    """The starts nearby as a member of the problem; nothing for a refusal without them."""
    if near is None or refusal.code not in NEAR_CODES:
        return {}
    try:
        return {"near": near(refusal, now)}
    except Refused:
        return {"near": []}


def _claim(request: Request, key: str, now: datetime) -> KeptAnswer:
    """The row of this key, locked; its status is 0 where this request is to fill it."""
    return claim_answer(
        me(request),
        method=request.method or "",
        path=request.path,
        key=key,
        fingerprint=_fingerprint(request),
        now=now,
    )


def _fingerprint(request: Request) -> str:
    """A keyed digest: a short answer, such as where it hurts, cannot be guessed from the table."""
    sent = request.META.get("QUERY_STRING", "").encode() + b"\n" + request.body
    return salted_hmac("kept answer", sent, algorithm="sha256").hexdigest()


def _replayed(row: KeptAnswer, request: Request) -> _Sent:
    if row.fingerprint != _fingerprint(request):
        raise Refused(
            "key-reused",
            "This Idempotency-Key came with another body before: take a new key for a new request.",
        )
    return _Sent(row.status, row.headers, row.body.encode())


def _keep(row: KeptAnswer, sent: _Sent) -> None:
    row.status, row.headers, row.body = sent.status, dict(sent.headers), sent.body.decode()


def _done_already(request: Request, result: Result) -> _Sent:
    where = result.headers.get("Location", request.path)
    done = Refused(
        "already-done",
        f"This was done by the first request; what it showed is shown once. See {where}.",
        location=where,
    )
    return _problem(request, done)


def _rendered(result: Result) -> _Sent:
    if result.data is None:
        return _Sent(result.status, result.headers, b"")
    headers = {"Content-Type": "application/json", **result.headers}
    return _Sent(result.status, headers, JSONRenderer().render(result.data))


def _problem(request: Request, refusal: Refused, **extra: Any) -> _Sent:
    return _Sent(
        refusal.status,
        problems.header_fields(refusal),
        problems.rendered(problems.document(refusal, request.path, **extra)),
    )
