"""How much a request may bring: refused by its announced length, or where that is missing at the
limit, before it is kept.

Source: RFC 9110 section 15.5.14 (413); 150 MB of multipart at the sign-in page were written to
disk.
"""

import http.client
import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.test import Client

from config.body_size import most_bytes
from tests.functional.routes import Route, every_route
from tests.races.server import ROOT, free_port

pytestmark = pytest.mark.one_database

TAKE_FILES = {
    "api/v1/busy-calendars/": 3_000_000,
    "busy-calendars/": 2_100_000,
    "hours/from-file/": 200_000,
    "people/bring-in/": 2_100_000,
}
"""The routes that take more than a form's worth of bytes."""
MUCH = 150_000_000
BOUNDARY = "harp"
FORM = f"multipart/form-data; boundary={BOUNDARY}"


class Unread:
    """A body that must not be read."""

    def read(self, *_: Any) -> bytes:
        raise AssertionError("the body was read")

    readline = readlines = __iter__ = read


def refused(path: str, method: str = "POST", kind: str = FORM, length: int = MUCH) -> Any:
    body = {"wsgi.input": Unread(), "CONTENT_LENGTH": str(length), "CONTENT_TYPE": kind}
    return Client().request(PATH_INFO=path, REQUEST_METHOD=method, **body)


@pytest.mark.django_db
@pytest.mark.parametrize("route", list(every_route()), ids=lambda route: route.pattern)
def test_every_route_has_a_limit(route: Route) -> None:
    """150 MB are refused at every address by their length alone."""
    answer = refused(route.path)
    if answer.status_code == 302:
        return  # the page is closed: sent elsewhere, unread
    assert answer.status_code == 413
    is_api = route.pattern.startswith("api/")
    assert answer["Content-Type"].startswith("application/problem+json" if is_api else "text/html")


@pytest.mark.django_db
@pytest.mark.parametrize("path", ["/accounts/login/", "/api/v1/tokens/", "/nothing/"])
@pytest.mark.parametrize("method", ["POST", "PUT", "GET", "DELETE"])
def test_whatever_the_verb(path: str, method: str) -> None:
    """No verb's body is read beyond the limit."""
    assert refused(path, method).status_code in (413, 404)


def test_only_routes_that_take_files_take_more() -> None:
    """A larger limit is written here as well as at its view."""
    larger = {
        route.pattern: most_bytes(route.view)
        for route in every_route()
        if most_bytes(route.view) != settings.DATA_UPLOAD_MAX_MEMORY_SIZE
    }
    assert larger == TAKE_FILES


@pytest.mark.django_db
def test_a_length_that_is_no_number() -> None:
    """Nothing is read of a body whose length makes no sense."""
    body = {"wsgi.input": Unread(), "CONTENT_LENGTH": "-1e9", "CONTENT_TYPE": FORM}
    answer = Client().request(PATH_INFO="/accounts/login/", REQUEST_METHOD="POST", **body)
    assert answer.status_code == 413


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[int, Path]]:
    """The product under gunicorn, as docker-compose.yml starts it, with a folder of its own for
    temporary files."""
    folder, port = tmp_path_factory.mktemp("gunicorn"), free_port()
    (folder / "tmp").mkdir()
    environment = {
        **os.environ,
        "LEVARE_PROFILE": "test",
        "LEVARE_VAR": str(folder),
        "DATABASE_URL": f"sqlite:///{folder}/levare.sqlite3",
        "REDIS_URL": "",
        "TMPDIR": str(folder / "tmp"),
        "DJANGO_SETTINGS_MODULE": "config.settings",
    }
    command = ["manage.py", "migrate", "-v", "0"]
    subprocess.run([sys.executable, *command], cwd=ROOT, env=environment, check=True)
    serve = ["-m", "gunicorn", "--config", "python:config.gunicorn", "--workers", "1"]
    process = subprocess.Popen(
        [sys.executable, *serve, "--bind", f"127.0.0.1:{port}", "config.wsgi"],
        cwd=ROOT,
        env=environment,
        stderr=subprocess.DEVNULL,
    )
    until = time.monotonic() + 60
    while time.monotonic() < until:
        try:
            socket.create_connection(("127.0.0.1", port), 1).close()
            break
        except OSError:
            time.sleep(0.2)
    try:
        yield port, folder / "tmp"
    finally:
        process.terminate()
        process.wait(30)


def chunked(port: int, path: str, kind: str, pieces: Iterator[bytes]) -> Any:
    """Sends without a Content-Length; the other side may answer and hang up before all is sent."""
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    line.putrequest("POST", path)
    line.putheader("Content-Type", kind)
    line.putheader("Transfer-Encoding", "chunked")
    line.endheaders()
    try:
        for piece in pieces:
            line.send(f"{len(piece):x}\r\n".encode() + piece + b"\r\n")
        line.send(b"0\r\n\r\n")
    except OSError:
        pass  # hung up on us
    return line.getresponse()


def a_file() -> Iterator[bytes]:
    yield (
        f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="a"; filename="a"\r\n\r\n'.encode()
    )
    for _ in range(40):
        yield b"x" * 100_000


def test_chunks_without_a_length_meet_the_limit(server: tuple[int, Path]) -> None:
    """4 MB in chunks at the sign-in page: 413, and no temporary file.

    Source: OWASP ASVS 5.0.0, V5.2.1.
    """
    port, temporary = server
    assert chunked(port, "/accounts/login/", FORM, a_file()).status == 413
    assert list(temporary.rglob("*.upload*")) == []


def test_chunks_within_the_limit_are_read(server: tuple[int, Path]) -> None:
    """A client that streams a small body is understood: Django by itself takes such a body for an
    empty one."""
    body = b'{"email": "nobody@rowanmere.example", "password": "guess"}'
    answer = chunked(server[0], "/api/v1/tokens/", "application/json", iter([body[:20], body[20:]]))
    assert (answer.status, b"not-signed-in" in answer.read()) == (401, True)
