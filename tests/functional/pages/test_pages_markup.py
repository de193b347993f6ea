"""Every page as its markup: no inline style or script, one heading, labels, headers; and GET
changes nothing.
"""

from html.parser import HTMLParser

import pytest
from django.test import Client

from bookings.models import (
    AuditRow,
    OutboxMessage,
)
from tests.cast import PASSWORD
from tests.functional.pages.every_page import counts, pages_of
from tests.functional.pages.school import School, as_user, make_school, text_of

pytestmark = pytest.mark.one_database


class Markup(HTMLParser):
    """What the rules ask about one page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.wrong: list[str] = []
        self.headings = 0
        self.ids: list[str] = []
        self.labelled: set[str] = set()
        self.fields: set[str] = set()
        self.lang = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        held = dict(attrs)
        self.wrong += [name for name in held if name == "style" or name.startswith("on")]
        if tag == "style" or (tag == "script" and "src" not in held):
            self.wrong.append(f"inline {tag}")
        self.headings += tag == "h1"
        self.lang = held.get("lang") or self.lang
        if held.get("id"):
            self.ids.append(held["id"] or "")
        if tag == "label" and held.get("for"):
            self.labelled.add(held["for"] or "")
        if (
            tag in ("input", "select", "textarea")
            and held.get("type") not in ("hidden", "radio", "submit")
            and held.get("id")
        ):
            self.fields.add(held["id"] or "")


def test_every_page_keeps_the_rules_of_its_markup(db: None) -> None:
    """One h1, a title, a language, labels, ids used once, nothing inline; a policy that forbids it;
    nothing kept by caches.
    """
    for who, client, address in pages_of(make_school(PASSWORD)):
        response = client.get(address)
        at = f"{who} {address}"
        assert response.status_code in (200, 403, 404), at
        page = text_of(response)
        markup = Markup(page)
        assert markup.wrong == [], at
        assert markup.headings == 1, at
        assert markup.lang == "en", at
        assert "<title>" in page, at
        assert "<title> ·" not in page, at
        assert len(markup.ids) == len(set(markup.ids)), (
            f"{at}: {[i for i in markup.ids if markup.ids.count(i) > 1]}"
        )
        assert markup.fields - markup.labelled == set(), at
        policy = response.headers["Content-Security-Policy"]
        assert "default-src 'self'" in policy, at
        assert "unsafe-inline" not in policy, at
        assert response.headers["Referrer-Policy"] == "same-origin", at
        assert response.headers["X-Frame-Options"] == "DENY", at
        if who != "stranger":
            assert "no-store" in response.headers["Cache-Control"], at


def test_get_changes_nothing(school: School) -> None:
    """Not a row comes or goes, nothing is queued and nothing audited, whoever opens whatever.

    Source: OWASP ASVS 5.0.0, V3.5.3.
    """
    pages = list(pages_of(school))
    before = counts()
    for _, client, address in pages:
        client.get(address)
    assert counts() == before
    assert not AuditRow.objects.exists()
    assert not OutboxMessage.objects.exists()


@pytest.mark.parametrize(
    "address",
    [
        "/hours/extra/",
        "/hours/away/",
        "/me/zone/",
        "/practice/tick/",
        "/meetings/1/place/",
        "/busy-calendars/1/refresh/",
    ],
)
def test_addresses_that_only_act_refuse_get(school: School, address: str) -> None:
    """405, so that a link can never do it."""
    assert as_user(school.dag).get(address).status_code == 405


def test_a_form_without_its_token_is_refused_in_our_words(school: School) -> None:
    """A forged POST changes nothing and reads like a page of the house.

    Source: OWASP ASVS 5.0.0, V3.5.1.
    """
    client = Client(enforce_csrf_checks=True)
    client.force_login(
        school.noor.user, backend="allauth.account.auth_backends.AuthenticationBackend"
    )
    response = client.post(f"/my-lessons/{school.booking.pk}/cancel/")
    assert response.status_code == 403
    assert "This form is too old" in text_of(response)
    school.booking.refresh_from_db()
    assert school.booking.standing == "HELD"


def test_a_fault_of_ours_is_a_plain_page(school: School, monkeypatch: pytest.MonkeyPatch) -> None:
    """500 says so without any context, and shows nothing of the fault."""

    def breaks() -> None:
        raise RuntimeError("canary-500")

    monkeypatch.setattr("bookings.pages.lessons.clock.now", breaks)
    client = as_user(school.noor.user)
    client.raise_request_exception = False
    response = client.get("/my-lessons/")
    assert response.status_code == 500
    assert "Something broke here" in text_of(response)
    assert "canary-500" not in text_of(response)


def test_nobody_changes_the_address_the_school_knows_them_by(school: School) -> None:
    """The account library's own page for that is closed, for GET and for POST."""
    client = as_user(school.noor.user)
    for response in (
        client.get("/accounts/email/"),
        client.post("/accounts/email/", {"email": "x@rowanmere.example", "action_add": ""}),
    ):
        assert response.url == "/me/"
