"""Email that cannot leave: how late it is, what is given up at once, who is shown it, and that no
server's words are kept.
"""

import logging
from datetime import timedelta
from smtplib import SMTPDataError, SMTPRecipientsRefused
from typing import Any

import pytest
from django.test import Client

from bookings import clock, health, outbox
from bookings.door import write
from bookings.models import OutboxMessage
from bookings.notices.rows import row
from bookings.operations.resending import send_again
from tests.cast import NOW, make_admin, make_user
from tests.integration.refusing import Refusing
from tests.letters import keep

pytestmark = pytest.mark.django_db
State = OutboxMessage.State
WORDS = b"5.7.1 Not for noor@rowanmere.example. You wrote: canary-5d21"
REFUSED = SMTPRecipientsRefused({"noor@rowanmere.example": (550, WORDS)})


def ready() -> dict[str, Any]:
    """What readiness says when it looks now."""
    health.forget()
    answer: dict[str, Any] = Client().get("/health/ready/").json()
    return answer


@pytest.fixture(autouse=True)
def server(settings: Any) -> type[Refusing]:
    settings.EMAIL_BACKEND = "tests.integration.refusing.Refusing"
    Refusing.error = None
    return Refusing


def told(kind: outbox.MessageKind = outbox.MessageKind.TOLD) -> OutboxMessage:
    """One message that is due."""
    keep([row(make_user("Noor"), kind, "x", "x", title="x", body="canary-5d21\n", now=NOW)], NOW)
    return OutboxMessage.objects.latest("pk")


def drain_until(end: Any) -> None:
    """Every attempt that falls due before `end`."""
    now = NOW
    while now is not None and now <= end:
        outbox.drain(lambda: now)  # noqa: B023  used at once
        due = OutboxMessage.objects.filter(state=State.DUE).order_by("due_at")
        now = due.values_list("due_at", flat=True).first()


def test_lateness_counts_from_when_it_first_was_due(
    server: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Twenty hours of a dead server: the next attempt lies ahead, and the message is twenty hours
    late.
    """
    told()
    server.error = ConnectionRefusedError("dead")
    end = NOW + timedelta(hours=20)
    drain_until(end)
    assert OutboxMessage.objects.get().due_at > end
    assert outbox.oldest_due(end) == timedelta(hours=20)
    monkeypatch.setattr(clock, "now", lambda: end)
    answer = ready()
    assert (answer["checks"]["mail"], answer["oldest_unsent_seconds"]) == ("late", 72_000)
    server.error = None
    outbox.drain(lambda: end + timedelta(hours=2))
    assert outbox.oldest_due(end + timedelta(hours=2)) == timedelta()


def test_after_27_hours_of_a_dead_server_ready_does_not_say_on_time(
    server: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By then everything has been given up, nothing is due any more, and somebody must look."""
    told()
    server.error = ConnectionRefusedError("dead")
    end = NOW + timedelta(hours=27)
    drain_until(end)
    monkeypatch.setattr(clock, "now", lambda: end)
    answer = ready()
    assert (answer["checks"]["mail"], answer["given_up_in_a_week"]) == ("some given up", 1)


@pytest.mark.parametrize("error", [REFUSED, SMTPDataError(554, b"5.7.1 canary-5d21")])
def test_a_permanent_refusal_is_given_up_at_once_and_its_words_are_kept_nowhere(
    server: Any, error: Exception, caplog: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One attempt. Kind and codes stand in the row, the log, the office and on the page People; the
    words stand nowhere.
    """
    message, dag = told(), make_admin()
    server.error = error
    with caplog.at_level(logging.DEBUG):
        outbox.drain(lambda: NOW)
    message.refresh_from_db()
    code = "SMTP 550 5.7.1" if error is REFUSED else "SMTP 554 5.7.1"
    assert (message.state, message.attempts, message.last_error) == (State.GIVEN_UP, 1, code)
    assert code in caplog.text
    monkeypatch.setattr(clock, "now", lambda: NOW)
    assert ready()["checks"]["mail"] == "some given up"
    client = Client()
    client.force_login(dag)
    for page in ("/people/", "/office/bookings/outboxmessage/"):
        shown = client.get(page).content.decode()
        assert code in shown and message.to_address in shown, page
        assert "canary" not in shown
    assert "canary" not in caplog.text + str(OutboxMessage.objects.values("last_error"))


def test_what_was_given_up_leaves_when_the_office_sends_it_again(server: Any) -> None:
    """The address exists after all: one click, and nothing is shown any more."""
    message = told()
    server.error = REFUSED
    outbox.drain(lambda: NOW)
    server.error = None
    write(lambda: send_again(actor=make_admin(), message=message, now=NOW), now=NOW)
    assert outbox.oldest_due(NOW) == timedelta()
    assert outbox.drain(lambda: NOW) == 1
    assert not outbox.given_up_lately(NOW).exists()


def test_a_link_for_a_new_password_is_erased_however_it_ends(server: Any) -> None:
    """Given up, it is not kept: whoever needs one asks for another. An invitation is, for the
    office to send again.
    """
    reset, welcome = told(outbox.MessageKind.RESET), told(outbox.MessageKind.WELCOME)
    server.error = REFUSED
    outbox.drain(lambda: NOW)
    assert OutboxMessage.objects.get(pk=reset.pk).body == ""
    assert OutboxMessage.objects.get(pk=welcome.pk).body != ""
