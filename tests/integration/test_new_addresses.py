"""A new email address counts once its mailbox has proven it; both addresses are told."""

from datetime import timedelta

import pytest
from allauth.account.models import EmailAddress

from accounts.models import AddressChange, User
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import AuditRow, OutboxMessage
from bookings.operations.addresses import (
    GOOD_FOR,
    ask_new_address,
    confirm_new_address,
    withdraw_new_address,
)
from bookings.operations.closing import close_account
from tests import cast
from tests.cast import NOW
from tests.school.addresses import change_address, secret_to

pytestmark = pytest.mark.django_db
OLD, NEW = "ida@rowanmere.example", "ida.quince@rowanmere.example"


@pytest.fixture
def dag():
    return cast.make_admin()


@pytest.fixture
def ida():
    return cast.make_user("Ida Quince", email=OLD)


def ask(dag, user, email=NEW, now=NOW):
    return write(lambda: ask_new_address(actor=dag, user=user, email=email, now=now), now=now)


def confirm(secret, now=NOW):
    return write(lambda: confirm_new_address(secret=secret, now=now), now=now)


def change(dag, user, email, now=NOW):
    return write(lambda: change_address(actor=dag, user=user, email=email, now=now), now=now)


def refused(code, act):
    before = AuditRow.objects.count(), OutboxMessage.objects.count()
    with pytest.raises(Refused) as caught:
        act()
    assert caught.value.code == code
    assert (AuditRow.objects.count(), OutboxMessage.objects.count()) == before


def told():
    """Who has been written to about what."""
    return list(OutboxMessage.objects.order_by("pk").values_list("to_address", "title"))


def test_the_old_address_counts_until_the_new_one_is_proven(dag, ida):
    """The old mailbox is told, and does not read the new address; the new one holds the link."""
    ask(dag, ida, "Ida.Quince@Rowanmere.example")
    assert User.objects.get(pk=ida.pk).email == OLD
    assert told() == [
        (NEW, "Confirm your new email address"),
        (OLD, "Your account is to have another email address"),
    ]
    assert NEW not in OutboxMessage.objects.get(to_address=OLD).body
    assert confirm(secret_to(NEW)).email == NEW


def test_a_link_works_once_and_for_a_week(dag, ida):
    """After that the school notes the address again."""
    ask(dag, ida)
    secret = secret_to(NEW)
    refused("not-found", lambda: confirm(secret, NOW + GOOD_FOR))
    confirm(secret, NOW + GOOD_FOR - timedelta(seconds=1))
    refused("not-found", lambda: confirm(secret))


def test_a_newer_address_voids_the_one_before(dag, ida):
    """Its link opens nothing, and an email that has not left never does."""
    ask(dag, ida, "mistyped@rowanmere.example")
    first = secret_to("mistyped@rowanmere.example")
    ask(dag, ida)
    refused("not-found", lambda: confirm(first))
    void = OutboxMessage.objects.get(to_address="mistyped@rowanmere.example")
    assert (void.state, void.body) == ("superseded", "")
    assert confirm(secret_to(NEW)).email == NEW


def test_a_new_address_is_taken_back_once(dag, ida):
    """On record; the link opens nothing then."""
    ask(dag, ida)
    secret = secret_to(NEW)
    write(lambda: withdraw_new_address(actor=dag, user=ida, now=NOW), now=NOW)
    refused("not-found", lambda: confirm(secret))
    refused("already-ended", lambda: withdraw_new_address(actor=dag, user=ida, now=NOW))
    assert AuditRow.objects.filter(verb="withdrew a new address", thing_id=ida.pk).exists()


def test_an_address_taken_meanwhile_is_refused(dag, ida):
    """Somebody else has joined with it since it was noted."""
    ask(dag, ida)
    cast.make_user("Otto Reed", email=NEW)
    refused("already-done", lambda: confirm(secret_to(NEW)))
    assert AddressChange.objects.waiting(NOW).exists()


def test_a_closed_account_gets_no_other_address(dag, ida):
    """A link that waits ends with the account."""
    ask(dag, ida)
    secret = secret_to(NEW)
    write(lambda: close_account(actor=dag, user=ida, now=NOW), now=NOW)
    refused("not-found", lambda: confirm(secret))
    refused("already-ended", lambda: ask(dag, ida))


def test_only_an_admin_notes_and_takes_back_an_address(ida):
    """The operations ask, whichever interface calls."""
    refused("not-allowed", lambda: ask(ida, ida))
    refused("not-allowed", lambda: withdraw_new_address(actor=ida, user=ida, now=NOW))


def test_another_address_is_told_to_the_old_one_and_to_the_new_one(dag, ida):
    """The old mailbox may be somebody else's by now, so it does not read the new address."""
    assert change(dag, ida, email="Ida.Quince@Rowanmere.example").email == NEW
    assert told()[2:] == [
        (OLD, "Your email address has been changed"),
        (NEW, "You sign in with this email address now"),
    ]
    assert not any(NEW in row.body for row in OutboxMessage.objects.filter(to_address=OLD))


def test_another_address_leaves_no_other_one_to_sign_in_with(dag, ida):
    """The library keeps a table of its own, filled when somebody signs in."""
    for address in (OLD, "older@rowanmere.example"):
        EmailAddress.objects.create(user=ida, email=address, verified=True)
    change(dag, ida, email=NEW)
    kept = EmailAddress.objects.values_list("user", "email", "verified", "primary")
    assert list(kept) == [(ida.pk, NEW, True, True)]


def test_an_address_left_in_the_table_by_somebody_else_is_freed(dag, ida):
    """Else the other person's password reset would arrive here."""
    other = cast.make_user("Otto Reed")
    EmailAddress.objects.create(user=other, email=NEW, verified=True, primary=True)
    change(dag, ida, email=NEW)
    assert EmailAddress.objects.get(email=NEW).user == ida


def test_an_address_of_another_account_is_refused(dag, ida):
    """In any spelling; nothing is written."""
    cast.make_user("Otto Reed", email=NEW)
    refused("already-done", lambda: change(dag, ida, email=NEW.upper()))


def test_what_waits_to_be_sent_goes_to_the_new_address(dag, ida):
    """A reminder written a week ago is no use in the old mailbox; a sent one stays as it went."""
    row = {"recipient": ida, "kind": "reminder-24h", "title": "Soon", "made_at": NOW, "due_at": NOW}
    for state in ("due", "sent"):
        OutboxMessage.objects.create(
            **row, subject_key="meeting:1", state_key=state, state=state, to_address=OLD
        )
    change(dag, ida, email=NEW)
    reminders = OutboxMessage.objects.filter(kind="reminder-24h").order_by("state")
    assert list(reminders.values_list("state", "to_address")) == [("due", NEW), ("sent", OLD)]


def test_a_change_is_on_record_without_its_values(dag, ida):
    """Who noted it, and that its owner has confirmed it."""
    change(dag, ida, email=NEW)
    rows = AuditRow.objects.order_by("pk").values_list("actor", "verb", "thing_id", "fields")
    assert list(rows) == [
        (dag.pk, "noted a new address", ida.pk, ["email"]),
        (ida.pk, "changed", ida.pk, ["email"]),
    ]


def test_the_same_address_is_refused(dag, ida):
    """In any spelling: nothing would change."""
    refused("already-done", lambda: ask(dag, ida, OLD.upper()))


def test_two_changes_of_address_are_two_emails(dag, ida):
    """Changed there and back: each is told."""
    change(dag, ida, email=NEW)
    change(dag, ida, email=OLD, now=NOW + timedelta(seconds=1))
    changed = OutboxMessage.objects.filter(state_key__startswith="address:").order_by("pk")
    assert list(changed.values_list("to_address", flat=True)) == [OLD, NEW, NEW, OLD]
