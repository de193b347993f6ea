"""A small HTTP client for the API, by the standard library, and the error that ends the story."""

import json
import uuid
from dataclasses import dataclass
from email.message import Message
from http.client import HTTPConnection
from http.cookies import SimpleCookie
from typing import Any
from urllib.parse import urlencode, urlsplit

from bookings.demo.people import Adult

PATIENCE = 20.0  # seconds


class NotSoError(Exception):
    """The first expectation of the story that is not met, with the server's log."""

    def __init__(self, what: str, expected: object, seen: object) -> None:
        super().__init__(f"Not so: {what}\n  expected: {expected}\n  seen:     {seen}")
        self.log = ""

    def __str__(self) -> str:
        return super().__str__() + (f"\nThe server's log ends:\n{self.log}" if self.log else "")


def check(what: str, expected: object, seen: object) -> None:
    """Raises NotSoError unless both are equal."""
    if expected != seen:
        raise NotSoError(what, expected, seen)


@dataclass(frozen=True, slots=True)
class Answer:
    """A response of the server."""

    status: int
    headers: Message
    body: bytes

    @property
    def json(self) -> Any:
        return json.loads(self.body)

    @property
    def etag(self) -> str:
        return self.headers["ETag"] or ""


def fetch(
    address: str,
    method: str = "GET",
    body: bytes | None = None,
    headers: dict[str, str] | None = None,
) -> Answer:
    """Sends one request on a new connection. Returns the answer, whatever its status is."""
    parts = urlsplit(address)
    connection = HTTPConnection(parts.hostname or "", parts.port, timeout=PATIENCE)
    try:
        connection.request(
            method, parts.path + (f"?{parts.query}" if parts.query else ""), body, headers or {}
        )
        response = connection.getresponse()
        return Answer(response.status, response.headers, response.read())
    finally:
        connection.close()


def page_of(base: str, email: str, password: str, path: str) -> str:
    """A page as somebody reads it in a browser: signed in by the form, with its cookies."""
    sign_in = f"{base}/accounts/login/"
    cookies = _cookies(fetch(sign_in))
    said = {"login": email, "password": password, "csrfmiddlewaretoken": cookies["csrftoken"]}
    headers = {
        "Content-Type": "application/x-www-form-urlencoded",
        "Cookie": _sent(cookies),
        "Origin": base,
    }
    signed_in = fetch(sign_in, "POST", urlencode(said).encode(), headers)
    check(f"{email} is signed in", 302, signed_in.status)
    page = fetch(f"{base}{path}", headers={"Cookie": _sent({**cookies, **_cookies(signed_in)})})
    check(f"the page {path}", 200, page.status)
    return page.body.decode()


def _cookies(answer: Answer) -> dict[str, str]:
    found = SimpleCookie("; ".join(answer.headers.get_all("Set-Cookie") or []))
    return {name: morsel.value for name, morsel in found.items()}


def _sent(cookies: dict[str, str]) -> str:
    return "; ".join(f"{name}={value}" for name, value in cookies.items())


class Person:
    """A person who is signed in at the API."""

    def __init__(self, who: Adult, base: str, password: str) -> None:
        self.name, self.email, self.time_zone = who.name, who.email, who.time_zone
        self._base, self._token = f"{base}/api/v1/", ""
        self._token = self.post("tokens/", {"email": who.email, "password": password})["token"]
        self.me = self.get("me/")

    def __str__(self) -> str:
        return self.name

    def get(self, path: str, **query: Any) -> Any:
        """The JSON at `path`. Raises NotSoError for any status but 200."""
        return self.look(path, **query).json

    def look(self, path: str, **query: Any) -> Answer:
        """The answer at `path` with its headers. Raises NotSoError for any status but 200."""
        return self._expect(200, "GET", f"{path}?{urlencode(query)}" if query else path)

    def rows(self, path: str, **query: Any) -> list[Any]:
        """The first page of a list."""
        rows: list[Any] = self.get(path, **query)["results"]
        return rows

    def post(
        self,
        path: str,
        data: dict[str, Any] | None = None,
        *,
        status: int | None = None,
        etag: str = "",
    ) -> Any:
        """The JSON of a POST. Raises NotSoError for any other status."""
        return self.act("POST", path, data, status=status, etag=etag).json

    def act(
        self,
        method: str,
        path: str,
        data: dict[str, Any] | None = None,
        *,
        status: int | None = None,
        etag: str = "",
        key: str = "",
    ) -> Answer:
        """A write with an Idempotency-Key, and with If-Match where an ETag is given."""
        headers = {
            "Idempotency-Key": f'"{key or uuid.uuid4()}"',
            **({"If-Match": etag} if etag else {}),
        }
        return self._expect(status, method, path, data, headers)

    def _expect(
        self,
        status: int | None,
        method: str,
        path: str,
        data: dict[str, Any] | None = None,
        headers: dict[str, str] | None = None,
    ) -> Answer:
        sent = {"Accept": "application/json", **(headers or {})}
        if self._token:
            sent["Authorization"] = f"Bearer {self._token}"
        body = None
        if method != "GET":
            sent["Content-Type"] = "application/json"
            body = json.dumps(data or {}).encode()
        answer = fetch(self._base + path, method, body, sent)
        if answer.status not in ({status} if status else {200, 201}):
            raise NotSoError(
                f"{self.name}: {method} {path}",
                status or "200 or 201",
                f"{answer.status} {answer.body.decode()[:600]}",
            )
        return answer
