"""A fault of ours under /api/ is a problem document with the id of its request, and tells nothing
of what went wrong."""

import pytest
from django.test import Client

from bookings.domain.errors import CODES
from tests.functional.api.school import School

SECRET = "Noor Ashgrove wrote this"


@pytest.fixture
def browser() -> Client:
    """A client that sees what a server would send, where the test client would raise."""
    return Client(raise_request_exception=False)


def break_everything(monkeypatch: pytest.MonkeyPatch) -> None:
    def fault(*args: object, **kwargs: object) -> None:
        raise RuntimeError(SECRET)

    monkeypatch.setattr("bookings.api.people.shown_me", fault)
    monkeypatch.setattr("bookings.api.bookings.book_start", fault)
    monkeypatch.setattr("bookings.api.documents.document", fault)
    monkeypatch.setattr(
        "django.contrib.sessions.middleware.SessionMiddleware.process_request", fault
    )


@pytest.mark.parametrize(
    ("verb", "path"),
    [
        ("GET", "/api/v1/me/"),
        ("POST", "/api/v1/bookings/"),
        ("GET", "/api/schema/"),
        ("GET", "/api/v1/nowhere/"),
    ],
)
def test_a_fault_is_a_problem_with_the_id_of_its_request(
    school: School, browser: Client, monkeypatch: pytest.MonkeyPatch, verb: str, path: str
) -> None:
    """RFC 9457: whatever broke, in a view or before it, a program reads a problem; whoever reports
    it names the id in the logs.

    Source: OWASP ASVS 5.0.0, V16.5.1.
    """
    browser.force_login(school.noor.user)
    break_everything(monkeypatch)
    answer = browser.generic(
        verb, path, headers={"X-Request-ID": "report-this-1234"}, content_type="application/json"
    )
    assert (answer.status_code, answer["Content-Type"]) == (500, "application/problem+json")
    problem = answer.json()
    assert problem["code"] == "fault"
    assert (problem["status"], problem["title"]) == CODES["fault"]
    assert problem["instance"] == path
    assert problem["request_id"] == answer["X-Request-ID"] == "report-this-1234"
    assert "no-store" in answer["Cache-Control"]
    for told in (SECRET, "RuntimeError", "Traceback"):
        assert told not in answer.content.decode()


def test_a_fault_of_a_page_stays_a_page(
    school: School, browser: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    """People read a page."""
    break_everything(monkeypatch)
    answer = browser.get("/me/")
    assert (answer.status_code, answer["Content-Type"]) == (500, "text/html; charset=utf-8")
    assert SECRET not in answer.content.decode()


ACCEPTS = ["text/html", "application/json", "image/png;q=0.9", "nonsense", "text/*;q=0"]


@pytest.mark.parametrize("accept", ACCEPTS)
@pytest.mark.parametrize("path", ["/api/schema/", "/api/docs/", "/api/problems/taken/"])
def test_what_describes_the_api_is_shown_to_whoever_asks(
    db: None, browser: Client, path: str, accept: str
) -> None:
    """RFC 9110 section 12.5.1: a server may answer with what it has, whatever was asked for."""
    assert browser.get(path, headers={"Accept": accept}).status_code == 200
