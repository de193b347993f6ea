"""A client that holds every answer against the API's own schema."""

import copy
import json
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from typing import Any

from django.apps import apps
from django.db import connection, transaction
from django.http import HttpResponse
from drf_spectacular.generators import SchemaGenerator
from jsonschema import Draft202012Validator
from rest_framework.test import APIClient

from accounts.models import User

V1 = "/api/v1/"


@cache
def schema() -> dict[str, Any]:
    """The OpenAPI document, closed: an answer may hold nothing that it does not name."""
    document = copy.deepcopy(SchemaGenerator().get_schema(request=None, public=True))
    for component in document["components"]["schemas"].values():
        if "properties" in component:
            component["additionalProperties"] = False
    return document


@cache
def _paths() -> list[tuple[re.Pattern[str], str]]:
    return [
        (re.compile(re.sub(r"\\{\w+\\}", "[^/]+", re.escape(path))), path)
        for path in sorted(schema()["paths"], key=_is_open)
    ]


def _is_open(path: str) -> bool:
    """An address without a place for an id is itself and no id: it is tried first."""
    return "{" in path


@cache
def _validator(path: str, verb: str, status: str, media: str) -> Draft202012Validator:
    """The validator of one kind of answer, made once: a new one reads the whole document again."""
    described = schema()["paths"][path][verb]["responses"][status]["content"][media]["schema"]
    return Draft202012Validator({**described, "components": schema()["components"]})


@dataclass(frozen=True, slots=True)
class Reply:
    """What came back."""

    status: int
    body: bytes
    headers: dict[str, str]

    @property
    def json(self) -> Any:
        return json.loads(self.body)

    @property
    def code(self) -> str:
        """The problem's code; empty for a success."""
        return (
            self.json["code"] if self.headers["Content-Type"] == "application/problem+json" else ""
        )

    @property
    def etag(self) -> str:
        return self.headers["ETag"]

    @property
    def version(self) -> str:
        """The tag without the digest of what GET told: two readings of one version share it."""
        return re.sub(r'\.[0-9a-f]{16}"$', '"', self.etag)


class Api:
    """Somebody at the API; nobody signed in where no user is given."""

    def __init__(self, user: User | None = None) -> None:
        self.user, self._client = user, APIClient()
        self._client.force_authenticate(user)

    def ask(
        self,
        verb: str,
        path: str,
        data: Any = None,
        *,
        key: str | None = None,
        match: str | None = None,
        **extra: Any,
    ) -> Reply:
        """One request, its answer held against the schema.

        `key` is sent quoted, `match` as it is.
        """
        headers = {
            **({"Idempotency-Key": f'"{key}"'} if key else {}),
            **({"If-Match": match} if match else {}),
            **extra.pop("headers", {}),
        }
        body = extra.pop("raw", None) or (json.dumps(data).encode() if data is not None else b"")
        media = extra.pop("media", "application/json")
        address = path if path.startswith("/") else V1 + path
        response = self._client.generic(verb, address, body, content_type=media, headers=headers)
        _hold_against_schema(verb, address, response)
        return Reply(response.status_code, response.content, dict(response.items()))

    def get(self, path: str, **how: Any) -> Reply:
        return self.ask("GET", path, **how)

    def post(self, path: str, data: Any = None, **how: Any) -> Reply:
        return self.ask("POST", path, data, **how)

    def patch(self, path: str, data: Any, **how: Any) -> Reply:
        return self.ask("PATCH", path, data, **how)

    def put(self, path: str, data: Any, **how: Any) -> Reply:
        return self.ask("PUT", path, data, **how)

    def delete(self, path: str, data: Any = None, **how: Any) -> Reply:
        return self.ask("DELETE", path, data, **how)

    def etag(self, path: str) -> str:
        """The ETag of what is at `path`."""
        return self.get(path).etag


# How the answer travels and who may keep it, the same for every call, is the web's and not told by
# the schema.
_TRANSPORT = {
    "Allow",
    "Cache-Control",
    "Content-Security-Policy",
    "Content-Length",
    "Content-Type",
    "Cross-Origin-Opener-Policy",
    "Referrer-Policy",
    "Vary",
    "X-Content-Type-Options",
    "X-Frame-Options",
    "X-Request-ID",
}


def _hold_headers(call: str, described: dict[str, Any], response: HttpResponse) -> None:
    """Every header field that the schema names comes, as it says, and no other does."""
    sent = set(response.headers) - _TRANSPORT
    assert sent == set(described), (call, response.status_code, sent)
    for name, field in described.items():
        text = response.headers[name]
        value = int(text) if field["schema"]["type"] == "integer" else text
        Draft202012Validator(field["schema"]).validate(value)


def _hold_against_schema(verb: str, address: str, response: HttpResponse) -> None:
    assert response.status_code < 500 or response.status_code == 503, response.content
    if not address.startswith(V1) or verb == "HEAD":
        return
    plain, status = address.partition("?")[0], str(response.status_code)
    path = next((path for pattern, path in _paths() if pattern.fullmatch(plain)), None)
    if path is None or verb.lower() not in schema()["paths"][path]:
        assert response.status_code in (401, 404, 405), (verb, address)
        return
    described = schema()["paths"][path][verb.lower()]["responses"].get(status)
    assert described is not None, (
        f"{verb} {address} answered {response.status_code}, which the schema does not name"
    )
    _hold_headers(f"{verb} {address}", described.get("headers", {}), response)
    content = described.get("content", {})
    media = response.headers.get("Content-Type", "").partition(";")[0]
    if not content:
        assert response.content == b""
        return
    assert media in content, f"{verb} {address} answered with {media}"
    if "json" in media:
        _validator(path, verb.lower(), status, media).validate(json.loads(response.content))


def snapshot() -> dict[str, list[tuple[Any, ...]]]:
    """Every row of people and bookings, but the answers kept for retries: what "nothing has
    changed" means.
    """
    models = [
        model for app in ("accounts", "bookings") for model in apps.get_app_config(app).get_models()
    ]
    rows = {}
    with connection.cursor() as cursor:
        for model in models:
            if model.__name__ not in {"KeptAnswer", "AssessmentReading"}:
                cursor.execute(
                    f"SELECT * FROM {model._meta.db_table} ORDER BY {model._meta.pk.column}"
                )  # the tables' own names
                rows[model.__name__] = cursor.fetchall()
    return rows


@contextmanager
def undone() -> Iterator[None]:
    """Whatever is written inside is rolled back, so that each person finds the same world."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)
