"""Addresses that cannot be reached: what marks one, what does not, what waits, what lifts it.

Sources: RFC 3464 (reports of a delivery), RFC 5965 (complaints), RFC 3463 (status codes).
"""

from datetime import timedelta
from smtplib import SMTPRecipientsRefused
from typing import Any

import pytest

from accounts.models import User
from bookings import clock, outbox
from bookings.door import write
from bookings.models import AuditRow, EmailTrouble, OutboxMessage
from bookings.operations.email_troubles import lift
from bookings.outbox.tracing import return_path
from tests.cast import NOW, make_admin, make_user
from tests.integration.mailed import ignored, receive
from tests.integration.returned import (
    DAY,
    GONE,
    LATE,
    State,
    came_back,
    noor,
    returned,
    sent,
    server,
    told,
)
from tests.unit.mail_reports import MINIMAL_FEEDBACK, complaint, report

pytestmark = pytest.mark.django_db
__all__ = ["noor", "server"]


def test_a_failure_for_good_marks_the_address_and_holds_what_follows(noor: User, monkeypatch: Any):
    """The email itself and later ones wait, and leave when an admin lifts the mark; nothing else
    is late or given up meanwhile.
    """
    came_back(sent(noor), monkeypatch)
    trouble = EmailTrouble.objects.get()
    assert (trouble.owner, trouble.why, trouble.status) == (noor, "gone", "5.1.1")
    told(noor, "y")
    assert outbox.drain(clock.now) == 0
    assert OutboxMessage.objects.held().count() == 2
    assert outbox.oldest_due(NOW + DAY) == timedelta()
    dag = make_admin()
    write(lambda: lift(actor=dag, trouble_id=trouble.pk, now=NOW), now=NOW)
    assert outbox.drain(clock.now) == 2
    assert not EmailTrouble.objects.exists()
    assert AuditRow.objects.get(verb="lifted").actor == dag


def test_a_report_is_matched_by_message_id_where_there_is_no_return_path(
    noor: User, settings: Any, monkeypatch: Any
):
    """Without BOUNCE_ADDRESS it comes to the school's own address, with the email."""
    settings.BOUNCE_ADDRESS = ""
    message = sent(noor)
    assert return_path(message) == settings.ORGANIZER_EMAIL
    came_back(message, monkeypatch, returned=returned(message))
    assert EmailTrouble.objects.marked().get().owner == noor


@pytest.mark.parametrize("forged", ["other key", "other number", "other id", "old address", "none"])
def test_a_forged_report_silences_nobody(noor: User, monkeypatch: Any, forged: str):
    """A stranger knows the address, and how keys and ids look; they do not know the seal."""
    message, other = sent(noor), sent(make_user("Marlo"), "y")
    seal = return_path(message).rpartition("-")[2]
    to, ids = "lessons@rowanmere.example", ""
    if forged == "other key":
        to = f"lessons+b{message.pk}-{'a' * 26}@rowanmere.example"
    elif forged == "other number":
        to = f"lessons+b{other.pk}-{seal}"
    elif forged == "other id":
        left, _, domain = message.message_id.partition("@")
        ids = f"Message-ID: {left[:-26]}{'a' * 26}@{domain}\n"
    elif forged == "old address":
        to = return_path(message)
        OutboxMessage.objects.filter(pk=message.pk).update(to_address="new@ashgrove.example")
    came_back(message, monkeypatch, to=to, returned=ids)
    assert not EmailTrouble.objects.exists()
    assert ignored() == {"unknown-address": 1}


@pytest.mark.parametrize("written", [report, complaint], ids=["failure", "complaint"])
@pytest.mark.parametrize("sign", ["\0", "\xff", "\udc80", "٣", "é", "\x7f"], ids=ascii)
def test_a_forged_message_id_of_any_bytes_is_ignored(
    noor: User, monkeypatch: Any, written: Any, sign: str
):
    """No database takes NUL or half of a surrogate pair, and a stranger may write both: the mail
    is ignored, and the command does not fail.
    """
    fields = GONE.format(noor.email, "5.1.1") if written is report else MINIMAL_FEEDBACK
    for left, domain in (("1", f"rowanmere{sign}.example"), (sign, "rowanmere.example")):
        ids = f"Message-ID: <x.{left}.{'a' * 26}@{domain}>\n"
        mail = written(fields, returned=ids.replace(sign, "SIGN") + "\nWords.\n")
        mail = mail.replace(b"SIGN", sign.encode(errors="surrogateescape"))
        receive(mail, monkeypatch, to="lessons@rowanmere.example", sender="")
    assert ignored() == {"unknown-address": 2}


def test_the_same_report_counts_once(noor: User, monkeypatch: Any):
    """Whoever keeps one cannot mark the address again after it was lifted, until the email has left
    once more.
    """
    message = sent(noor)
    came_back(message, monkeypatch)
    came_back(message, monkeypatch)
    assert ignored() == {"old": 1}
    assert EmailTrouble.objects.count() == 1


def test_a_report_of_an_old_email_is_ignored(noor: User, monkeypatch: Any):
    """Servers give up after days, and readers complain within weeks."""
    message = sent(noor)
    monkeypatch.setattr(clock, "now", lambda: NOW + 61 * DAY)
    came_back(message, monkeypatch)
    assert ignored() == {"old": 1}


@pytest.mark.parametrize(("fields", "status"), [(LATE, "4.4.1"), (GONE, "4.4.7"), (GONE, "5.7.1")])
def test_trouble_that_may_pass_marks_on_the_fifth_day(
    noor: User, monkeypatch: Any, fields: str, status: str
):
    """Delays, failures by time, and policies; however many come on one day."""
    for day in range(5):
        assert not EmailTrouble.objects.marked().exists()
        monkeypatch.setattr(clock, "now", lambda day=day: NOW + day * DAY)
        both = [sent(noor, f"{day}.{number}") for number in range(2)]
        for message in both[: 1 if day else 2]:
            came_back(message, monkeypatch, fields.format(noor.email, status))
    assert EmailTrouble.objects.marked().get().why == "repeated"


def test_days_of_trouble_are_forgotten_after_two_quiet_weeks(noor: User, monkeypatch: Any):
    """Four days, then a pause: the count begins anew."""
    for day in (0, 1, 2, 3, 20):
        monkeypatch.setattr(clock, "now", lambda day=day: NOW + day * DAY)
        came_back(sent(noor, str(day)), monkeypatch, LATE.format(noor.email, "4.4.1"))
    assert (EmailTrouble.objects.get().days, EmailTrouble.objects.get().marked_at) == (1, None)


@pytest.mark.parametrize("action", ["delivered", "relayed", "expanded"])
def test_a_report_of_success_changes_nothing(noor: User, monkeypatch: Any, action: str):
    """RFC 3464 section 2.3.3."""
    fields = GONE.format(noor.email, "2.0.0").replace("failed", action)
    came_back(sent(noor), monkeypatch, fields)
    assert not EmailTrouble.objects.exists()
    assert ignored() == {"no-answer": 1}


def test_of_several_outcomes_our_recipient_s_counts(noor: User, monkeypatch: Any):
    """A report may tell of others too (the second example of RFC 3464)."""
    mine = GONE.format(noor.email, "4.0.0").partition("\n\n")[2]
    fields = GONE.format("else@shore.example", "5.1.1") + "\n" + mine
    came_back(sent(noor), monkeypatch, fields)
    assert (EmailTrouble.objects.get().marked_at, EmailTrouble.objects.get().days) == (None, 1)


def test_a_complaint_marks_the_address_and_sends_nothing_twice(noor: User, monkeypatch: Any):
    """The email was delivered: it does not wait. Later ones do."""
    message = sent(noor)
    receive(complaint(returned=returned(message)), monkeypatch, to="abuse@rowanmere.example")
    assert EmailTrouble.objects.get().why == "complaint"
    assert not OutboxMessage.objects.held().exists()
    told(noor, "y")
    assert outbox.drain(clock.now) == 0
    receive(complaint(returned=returned(message)), monkeypatch, to="abuse@rowanmere.example")
    assert ignored() == {"old": 1}


def test_a_refused_recipient_is_marked_at_once(noor: User, server: Any):
    """550 at RCPT: the message waits with its code. A refusal by policy is given up as before, and
    says nothing of the address.
    """
    message = told(noor)
    server.error = SMTPRecipientsRefused({noor.email: (550, b"5.7.1 no relaying")})
    outbox.drain(clock.now)
    message.refresh_from_db()
    assert (message.state, EmailTrouble.objects.exists()) == (State.GIVEN_UP, False)
    message = told(noor, "y")
    server.error = SMTPRecipientsRefused({noor.email: (550, b"no such user")})
    outbox.drain(clock.now)
    message.refresh_from_db()
    assert (message.state, message.held_since, message.last_error) == (State.DUE, NOW, "SMTP 550")
    assert EmailTrouble.objects.marked().get().owner == noor
