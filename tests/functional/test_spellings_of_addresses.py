"""A domain typed in its own letters and one typed as mail carries it are one address, at every door
through which an address comes in.

Source: RFC 3490, section 3.1: the two forms are equivalent.
"""

import pytest
from django.core.cache import cache
from django.test import Client

from accounts.models import User, Welcome
from bookings.domain.errors import Refused
from bookings.models import OutboxMessage
from bookings.operations.addresses import ask_new_address
from bookings.operations.invitations import invite
from bookings.queries.people import account_of_email
from tests import cast
from tests.cast import NOW, PASSWORD
from tests.functional.guessing import on_the_page, over_the_api
from tests.integration.mailed import again, answer, booking, receive

__all__ = ["booking"]
pytestmark = pytest.mark.django_db
LETTERS, CARRIED = "noor@märsh.example", "noor@xn--mrsh-loa.example"
BOTH = pytest.mark.parametrize("typed", [LETTERS, CARRIED, CARRIED.upper()])


@pytest.fixture
def noor(monkeypatch: pytest.MonkeyPatch) -> User:
    monkeypatch.setattr("bookings.clock.now", lambda: NOW)
    cache.clear()  # how often this address has asked before
    return cast.make_user("Noor Ashgrove", password=PASSWORD, email=LETTERS)


@BOTH
def test_either_signs_in_on_the_page_and_over_the_api(noor: User, typed: str) -> None:
    """With the password of the one account."""
    assert on_the_page(typed, PASSWORD).status_code == 302
    assert over_the_api(typed, PASSWORD).status_code == 201


@BOTH
def test_either_asks_for_a_new_password_and_is_known_to_commands(noor: User, typed: str) -> None:
    """The link goes to the account's own address; an admin's command finds the same account."""
    Client().post("/accounts/password/reset/", {"email": typed})
    assert OutboxMessage.objects.get(kind="password-reset").recipient == noor
    assert account_of_email(typed) == noor


@BOTH
def test_neither_is_invited_or_taken_by_somebody_else(noor: User, typed: str) -> None:
    """The account that has it is found: an invitation goes there, a change is refused."""
    dag, ida = cast.make_admin(), cast.make_user("Ida Quince")
    with pytest.raises(Refused) as caught:
        ask_new_address(actor=dag, user=ida, email=typed, now=NOW)
    assert caught.value.code == "already-done"
    invite(actor=dag, email=typed, name="Noor Ashgrove", as_instructor=True, now=NOW)
    assert Welcome.objects.get().email == LETTERS


def test_an_answer_from_such_a_mailbox_is_its_reader_s(
    booking, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Invitations name the domain as mail carries it, and so do the answers to them."""
    user = booking.student.user
    user.email = LETTERS
    user.save()
    passed = "mx.rowanmere.example; dmarc=pass header.from=xn--mrsh-loa.example"
    receive(answer(booking, sender=CARRIED, attendee=CARRIED, results=passed), monkeypatch)
    assert again(booking).partstat == "ACCEPTED"
