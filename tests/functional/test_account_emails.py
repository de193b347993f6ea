"""Emails about accounts: all of them by the outbox, in the school's words; a secret is kept no
longer than it must be.

Sources: OWASP Forgot Password Cheat Sheet (equal answers and work), OWASP Authentication Cheat
Sheet (tell the owner).
"""

import logging
import re
from pathlib import Path
from typing import Any

import allauth
import pytest
from django.core import mail
from django.core.cache import cache
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from bookings import outbox
from bookings.models import AuditRow, IgnoredMail, OutboxMessage
from bookings.notices import AccountEvent
from bookings.pages.account_emails import EVENTS
from tests.cast import NOW, PASSWORD, make_user
from tests.functional.library_emails import NEVER

pytestmark = pytest.mark.django_db
EMAIL, RESET = "noor@rowanmere.example", "/accounts/password/reset/"
LINK = re.compile(r"/accounts/password/reset/key/\S+")
TEMPLATES = Path(allauth.__file__).parent / "templates"


@pytest.fixture
def noor(monkeypatch: pytest.MonkeyPatch) -> Any:
    monkeypatch.setattr("bookings.clock.now", lambda: NOW)
    cache.clear()  # how often this address has asked before
    return make_user("Noor Ashgrove", password=PASSWORD, email=EMAIL)


def ask(email: str) -> Any:
    return Client().post(RESET, {"email": email}, follow=True)


def test_every_email_of_the_library_has_words_of_the_school_or_cannot_be() -> None:
    """Walks the library's own templates, so that a new version with a new email is found out."""
    found = {
        str(path.relative_to(TEMPLATES)).removesuffix("_message.txt")
        for app in ("account", "mfa")
        for path in (TEMPLATES / app / "email").glob("*_message.txt")
        if not path.name.startswith("base_")
    }
    assert found == set(EVENTS) | set(NEVER)


def test_an_unknown_address_gets_no_email_and_the_same_answer(noor: Any) -> None:
    """Equal pages, byte for byte but for the form's own token; and one transaction that writes for
    either.
    OWASP ASVS 5.0.0, V6.3.8.
    """
    answers, written = [], []
    for address in (EMAIL, "nobody@rowanmere.example"):
        with CaptureQueriesContext(
            connection,
        ) as queries:
            answer = ask(address)
        text = re.sub(r'(name="csrfmiddlewaretoken" value=)"[^"]*"', r"\1", answer.content.decode())
        headers = {name: value for name, value in answer.headers.items() if name != "X-Request-ID"}
        answers.append((answer.redirect_chain, answer.status_code, headers, text))
        told = [query["sql"].partition(" ")[0] for query in queries]
        written.append(sum(told.count(verb) for verb in ("INSERT", "UPDATE")))
    assert answers[0] == answers[1]
    assert min(written) >= 2 and abs(written[0] - written[1]) <= 2
    assert [message.to_address for message in OutboxMessage.objects.all()] == [EMAIL]
    assert dict(IgnoredMail.objects.values_list("reason", "count")) == {"unknown-account": 1}
    assert mail.outbox == []


def test_a_link_for_a_new_password_survives_a_dead_server(
    noor: Any, settings: Any, caplog: Any
) -> None:
    """It waits in the outbox, leaves when the server is back, and is erased then; no log and no
    audit row has it.
    """
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", 1
    with caplog.at_level(logging.DEBUG):
        assert ask(EMAIL).status_code == 200
        assert outbox.drain(lambda: NOW) == 0
        message = OutboxMessage.objects.get()
        (secret,) = LINK.findall(message.body)
        assert (message.state, message.last_error) == ("due", "ConnectionRefusedError")
        settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
        assert outbox.drain(lambda: message.due_at) == 1
    message.refresh_from_db()
    (sent,) = mail.outbox
    assert secret in sent.message().as_bytes().decode().replace("=\r\n", "").replace("=3D", "=")
    rows = str(list(OutboxMessage.objects.values())) + str(list(AuditRow.objects.values()))
    token = secret.strip("/").rpartition("/")[2]
    assert message.body == "" and token not in rows and token not in caplog.text
    assert Client().get(secret, follow=True).status_code == 200


def test_a_newer_link_withdraws_the_one_that_waits(noor: Any) -> None:
    """Two requests while nothing leaves: one email, and the older text is gone."""
    ask(EMAIL)
    ask(EMAIL)
    first, second = OutboxMessage.objects.order_by("pk")
    assert (first.state, first.body, second.state) == ("superseded", "", "due")
    assert outbox.drain(lambda: NOW) == 1


def test_the_link_begins_with_the_schools_own_address(noor: Any, settings: Any) -> None:
    """Whatever Host the request named. Source: OWASP, host header injection in password resets."""
    settings.BASE_URL, settings.ALLOWED_HOSTS = "https://school.rowanmere.example", ["*"]
    Client(headers={"host": "evil.example"}).post(RESET, {"email": EMAIL.upper()})
    message = OutboxMessage.objects.get()
    assert "https://school.rowanmere.example/accounts/" in message.body
    assert "evil" not in message.body
    assert message.to_address == EMAIL


@pytest.mark.django_db(transaction=True)  # a new factor is told of once it is committed
def test_the_owner_is_told_of_each_change(noor: Any) -> None:
    """Password reset and changed, second factor added and removed, new recovery codes: in the
    school's words alone. OWASP ASVS 5.0.0, V6.3.7.
    """
    from allauth.mfa.totp.internal.auth import (
        format_hotp_value,
        hotp_value,
        yield_hotp_counters_from_time,
    )

    client = Client()
    client.post("/accounts/login/", {"login": EMAIL, "password": PASSWORD})
    client.post("/accounts/reauthenticate/", {"password": PASSWORD})
    client.get("/accounts/2fa/totp/activate/")
    counter = next(iter(yield_hotp_counters_from_time()))
    code = format_hotp_value(hotp_value(client.session["mfa.totp.secret"], counter))
    client.post("/accounts/2fa/totp/activate/", {"code": code})
    client.post("/accounts/2fa/recovery-codes/generate/")
    client.post("/accounts/2fa/totp/deactivate/")
    new = {"password1": "another-fine-sentence", "password2": "another-fine-sentence"}
    client.post("/accounts/password/change/", {"oldpassword": PASSWORD, **new})
    ask(EMAIL)
    (secret,) = LINK.findall(OutboxMessage.objects.get(kind="password-reset").body)
    form = Client()
    shown = form.get(secret, follow=True)
    form.post(shown.request["PATH_INFO"], {"password1": PASSWORD, "password2": PASSWORD})
    told = OutboxMessage.objects.filter(kind="account").order_by("pk")
    events = [message.state_key.partition(":")[0] for message in told]
    assert events.count("password-changed") == events.count("password-reset") == 1
    assert set(events) == {event.value for event in AccountEvent}
    words = "\n".join(message.title + message.body for message in OutboxMessage.objects.all())
    for foreign in (
        "example.com",
        "Hello from",
        "Thank you for using",
        "user agent",
        "[testserver]",
    ):
        assert foreign.lower() not in words.lower()
    assert mail.outbox == []
