"""Accounts changed by an admin: name, email address, role.

Each is on record, and its person is told.
"""

from datetime import timedelta

import pytest
from allauth.account.models import EmailAddress
from django.db import IntegrityError, transaction

from accounts.models import User
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import AuditRow, OutboxMessage
from bookings.operations.accounts import change_account, change_admin
from tests import cast
from tests.cast import NOW

pytestmark = pytest.mark.django_db
OLD, NEW = "ida@rowanmere.example", "ida.quince@rowanmere.example"


@pytest.fixture
def dag():
    return cast.make_admin()


@pytest.fixture
def ida():
    return cast.make_user("Ida Quince", email=OLD)


def change(dag, user, now=NOW, **values):
    return write(lambda: change_account(actor=dag, user=user, now=now, **values), now=now)


def admin(dag, user, is_admin):
    return write(lambda: change_admin(actor=dag, user=user, is_admin=is_admin, now=NOW), now=NOW)


def refused(code, act):
    before = AuditRow.objects.count(), OutboxMessage.objects.count()
    with pytest.raises(Refused) as caught:
        act()
    assert caught.value.code == code
    assert (AuditRow.objects.count(), OutboxMessage.objects.count()) == before


def told():
    """Who has been written to about what."""
    return list(OutboxMessage.objects.order_by("pk").values_list("to_address", "title"))


def test_another_address_is_told_to_the_old_one_and_to_the_new_one(dag, ida):
    """The old mailbox may be somebody else's by now, so it does not read the new address."""
    assert change(dag, ida, email="Ida.Quince@Rowanmere.example").email == NEW
    assert told() == [
        (OLD, "Your email address has been changed"),
        (NEW, "You sign in with this email address now"),
    ]
    assert NEW not in OutboxMessage.objects.get(to_address=OLD).body


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
    """Who, whom and which fields."""
    change(dag, ida, name="Ida Marsh", email=NEW)
    (row,) = AuditRow.objects.all()
    assert (row.actor, row.verb, row.thing, row.thing_id) == (dag, "changed", "user", ida.pk)
    assert (row.fields, row.reason) == (["name", "email"], "")


def test_the_same_values_change_nothing(dag, ida):
    """Neither a row on record nor an email."""
    change(dag, ida, name="Ida Quince", email=OLD.upper())
    assert (AuditRow.objects.count(), told()) == (0, [])


def test_two_changes_of_address_are_two_emails(dag, ida):
    """Changed there and back: each is told."""
    change(dag, ida, email=NEW)
    change(dag, ida, email=OLD, now=NOW + timedelta(seconds=1))
    assert [address for address, _ in told()] == [OLD, NEW, NEW, OLD]


def test_the_admin_role_is_given_whole_and_taken_whole(dag, ida):
    """Both of Django's flags, on record, and the person is told each time."""
    for is_admin in (True, False):
        admin(dag, ida, is_admin)
        ida.refresh_from_db()
        assert (ida.is_staff, ida.is_superuser) == (is_admin, is_admin)
    verbs = list(AuditRow.objects.order_by("pk").values_list("verb", flat=True))
    assert verbs == ["made admin", "made no admin"]
    assert told() == [(OLD, "You are now an admin"), (OLD, "You are no longer an admin")]


def test_half_an_admin_is_refused_by_the_database(ida):
    """Typed past every operation."""
    for half in ({"is_staff": True}, {"is_superuser": True}):
        with pytest.raises(IntegrityError), transaction.atomic():
            User.objects.filter(pk=ida.pk).update(**half)


def test_the_last_admin_stays(dag, ida):
    """Nobody could make another. An admin whose account is closed does not count."""
    cast.make_admin("Old Hand", is_active=False)
    refused("last-admin", lambda: admin(dag, dag, False))
    admin(dag, ida, True)
    admin(dag, dag, False)
    assert list(User.objects.filter(is_staff=True, is_active=True)) == [ida]


def test_a_closed_account_is_made_no_admin_and_nobody_twice(dag, ida):
    """Each refusal says what is the matter."""
    refused("already-done", lambda: admin(dag, dag, True))
    refused("already-done", lambda: admin(dag, ida, False))
    User.objects.filter(pk=ida.pk).update(is_active=False)
    refused("already-ended", lambda: admin(dag, ida, True))


def test_only_an_admin_changes_people(ida):
    """The operations ask, whichever interface calls."""
    refused("not-allowed", lambda: change(ida, ida, name="Somebody Else"))
    refused("not-allowed", lambda: admin(ida, ida, True))
