"""Addresses that cannot be reached: who is told, what still leaves, and what lifts the mark.

Sources: RFC 3464 (reports of a delivery), RFC 5965 (complaints), RFC 3463 (status codes).
"""

from typing import Any

import pytest
from django.test import Client

from accounts.models import AddressChange, User, Welcome, digest
from bookings import clock, notices, outbox
from bookings.domain.needs import Need
from bookings.door import write
from bookings.models import EmailTrouble, OutboxMessage
from bookings.notices import AccountEvent
from bookings.notices.rows import row
from bookings.operations.account_emails import tell_of_change
from bookings.operations.addresses import confirm_new_address
from bookings.operations.email_troubles import forget_troubles, tell_of_troubles
from tests.cast import NOW, make_admin, make_user
from tests.integration.returned import (
    DAY,
    State,
    came_back,
    noor,
    sent,
    server,
    told,
)
from tests.letters import keep
from tests.school.desk import all_needed

pytestmark = pytest.mark.django_db
__all__ = ["noor", "server"]


def test_a_new_address_gets_what_waited(noor: User, monkeypatch: Any):
    """With Message-IDs that hold for it; nothing is marked any more."""
    message = sent(noor)
    came_back(message, monkeypatch)
    new = "noor@newmail.example"
    AddressChange.objects.create(
        user=noor, email=new, secret_digest=digest("s"), asked_at=NOW, good_until=NOW + DAY
    )
    write(lambda: confirm_new_address(secret="s", now=NOW), now=NOW)
    moved = OutboxMessage.objects.get(pk=message.pk)
    assert (moved.to_address, moved.held_since) == (new, None)
    assert moved.message_id != message.message_id
    assert not EmailTrouble.objects.exists()
    assert outbox.traced([], [moved.message_id]) == moved


def test_links_and_news_of_the_account_still_leave(noor: User, monkeypatch: Any):
    """News always; a link for a new password once in 24 hours, and the second one waits."""
    came_back(sent(noor), monkeypatch)
    told(noor, "news", outbox.MessageKind.ACCOUNT)
    told(noor, "one", outbox.MessageKind.RESET)
    assert outbox.drain(clock.now) == 2
    second = told(noor, "two", outbox.MessageKind.RESET)
    assert outbox.drain(clock.now) == 0
    second.refresh_from_db()
    assert (second.due_at, second.held_since) == (NOW + DAY, None)
    monkeypatch.setattr(clock, "now", lambda: NOW + DAY)
    assert outbox.drain(clock.now) == 1


def test_admins_are_told_once_of_all(noor: User, monkeypatch: Any):
    """One email to each admin, however many addresses; the next one only about a new address."""
    dag = make_admin()
    came_back(sent(noor), monkeypatch)
    came_back(sent(make_user("Marlo"), "y"), monkeypatch)
    for _ in range(2):
        write(lambda: tell_of_troubles(now=NOW), now=NOW)
    letter = OutboxMessage.objects.get(subject_key="email-troubles")
    assert letter.recipient == dag and letter.title == "Emails to 2 addresses wait"
    assert "noor@ashgrove.example" in letter.body


def test_the_reader_proves_the_address_by_a_link(noor: User, monkeypatch: Any):
    """Every page says it; the link in the email asks once more, and then what waited leaves."""
    came_back(sent(noor), monkeypatch)
    client = Client()
    client.force_login(noor)
    assert b"We cannot reach you at noor@ashgrove.example" in client.get("/me/").content
    client.post("/me/address/")
    client.post("/me/address/")
    withdrawn = OutboxMessage.objects.filter(kind="address", state=State.SUPERSEDED)
    assert withdrawn.count() == 1
    withdrawn.delete()
    letter = OutboxMessage.objects.get(kind="address")
    assert outbox.drain(clock.now) == 1
    page = "/me/address/" + letter.body.partition("/me/address/")[2].split()[0]
    assert client.get("/me/address/" + "0" * 64 + "/").status_code == 404
    assert client.get(page).status_code == 200
    assert EmailTrouble.objects.marked().exists()
    client.post(page)
    assert not EmailTrouble.objects.exists()
    assert b"We cannot reach you" not in client.get("/me/").content
    assert outbox.drain(clock.now) == 1


def test_an_invitation_that_came_back_is_nobody_s_account(monkeypatch: Any):
    """The admin who invites is the recipient of the row, but the address is another's."""
    dag = make_admin()
    keep([row(dag, outbox.MessageKind.WELCOME, "w", "w", title="x", body="x\n", now=NOW,
              to_address="robin@marsh.example")], NOW)  # fmt: skip
    outbox.drain(clock.now)
    came_back(OutboxMessage.objects.get(), monkeypatch)
    assert (EmailTrouble.objects.get().owner, EmailTrouble.objects.get().address) == (
        None,
        "robin@marsh.example",
    )


def test_what_waits_too_long_is_erased(noor: User, monkeypatch: Any):
    """Texts are kept for thirty days, held ones too."""
    came_back(sent(noor), monkeypatch)
    assert outbox.let_go(NOW + 29 * DAY) == 0
    assert outbox.let_go(NOW + 31 * DAY) == 1
    assert OutboxMessage.objects.get().body == ""


def test_two_admins_read_the_same_words(noor: User):
    """The email and the page say why in the same words."""
    trouble = EmailTrouble.objects.create(
        address=noor.email, owner=noor, why="gone", last_on=NOW, marked_at=NOW
    )
    dag = make_admin()
    (letter,) = notices.addresses_unreachable(dag, [trouble], now=NOW)
    client = Client()
    client.force_login(dag)
    page = client.get(f"/people/addresses/{trouble.pk}/").content.decode()
    said = "its mail server says that the mailbox does not exist or takes no email"
    assert said in page and said in letter.body
    assert "noor@ashgrove.example" in client.get("/needs/").content.decode() + page


def test_an_invitation_s_address_needs_an_admin_while_the_invitation_is_open(noor: User):
    """It stands on Needs you now under the address itself, and is forgotten with the invitation."""
    dag = make_admin()
    Welcome.objects.create(
        email="robin@marsh.example",
        name="Robin Marsh",
        as_admin=True,
        secret_digest="w",
        sent_at=NOW,
        good_until=NOW + 14 * DAY,
    )
    for address, owner in ((noor.email, noor), ("robin@marsh.example", None)):
        EmailTrouble.objects.create(
            address=address, owner=owner, why="gone", last_on=NOW, marked_at=NOW
        )
    for at, names in ((NOW, ["Noor Ashgrove", "robin@marsh.example"]), (NOW + 15 * DAY, None)):
        write(lambda at=at: forget_troubles(now=at), now=at)
        found = [row.name for row in all_needed(dag, Need.ADDRESS, at)]
        assert found == (names or ["Noor Ashgrove"])
    User.objects.filter(pk=noor.pk).update(is_active=False)
    assert all_needed(dag, Need.ADDRESS) == []


def test_a_new_password_by_an_emailed_link_proves_the_address(noor: User, monkeypatch: Any):
    """Whoever used the link has read the email; a password changed on Me proves nothing."""
    came_back(sent(noor), monkeypatch)
    for event, marked in ((AccountEvent.PASSWORD_CHANGED, 1), (AccountEvent.PASSWORD_RESET, 0)):
        write(lambda event=event: tell_of_change(user=noor, event=event, now=NOW), now=NOW)
        assert EmailTrouble.objects.marked().count() == marked


def test_a_complaint_is_told_to_its_reader_in_other_words(noor: User):
    """The emails do arrive, so nobody is told that they cannot be reached."""
    EmailTrouble.objects.create(
        address=noor.email, owner=noor, why="complaint", last_on=NOW, marked_at=NOW
    )
    client = Client()
    client.force_login(noor)
    page = client.get("/me/").content.decode()
    assert "We have stopped sending emails to noor@ashgrove.example" in page
    assert "cannot reach" not in page
