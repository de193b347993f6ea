"""A link for a new password opens nothing after what shuts its holder out, and none leaves for an
address that it was not asked for.

Source: OWASP Forgot Password Cheat Sheet.
"""

import re
from collections.abc import Callable

import pytest
from django.core.cache import cache
from django.test import Client

from accounts.models import User
from bookings import outbox
from bookings.models import OutboxMessage
from bookings.operations.accounts import change_admin
from bookings.operations.closing import close_account, reopen_account
from bookings.operations.consents import ask_for_consent
from tests.cast import NOW, PASSWORD, make_admin, make_minor, make_policy, make_user
from tests.functional.guessing import on_the_page
from tests.school.addresses import change_address

pytestmark = pytest.mark.django_db
EMAIL, RESET = "noor@rowanmere.example", "/accounts/password/reset/"
NEW = "another-fine-sentence"


@pytest.fixture
def noor(monkeypatch: pytest.MonkeyPatch) -> User:
    monkeypatch.setattr("bookings.clock.now", lambda: NOW)
    cache.clear()  # how often this address has asked before
    return make_user("Noor Ashgrove", password=PASSWORD, email=EMAIL)


def asked() -> str:
    """The page of a link that has just been asked for."""
    Client().post(RESET, {"email": EMAIL})
    message = OutboxMessage.objects.filter(kind="password-reset").latest("pk")
    return re.findall(r"/accounts/password/reset/key/\S+", message.body)[0]


def sets(link: str, user: User) -> bool:
    """Whether the link sets another password."""
    client = Client()
    page = client.get(link, follow=True).request["PATH_INFO"]
    client.post(page, {"password1": NEW, "password2": NEW})
    user.refresh_from_db()
    return user.check_password(NEW)


def close(user: User, dag: User) -> None:
    close_account(actor=dag, user=user, now=NOW)


def close_and_reopen(user: User, dag: User) -> None:
    close(user, dag)
    reopen_account(actor=dag, user=user, now=NOW)


def move_away(user: User, dag: User) -> None:
    change_address(actor=dag, user=user, email="new@rowanmere.example", now=NOW)


def make_admin_of(user: User, dag: User) -> None:
    change_admin(actor=dag, user=user, is_admin=True, now=NOW)


@pytest.mark.parametrize("change", [close, close_and_reopen, move_away, make_admin_of])
def test_what_signs_somebody_out_everywhere_ends_their_link(
    noor: User, change: Callable[[User, User], None]
) -> None:
    """A closed account gets no new password, and opening it again brings no older link back."""
    link = asked()
    change(noor, make_admin())
    assert not sets(link, noor)


def test_a_link_works_where_nothing_came_between(noor: User) -> None:
    """Signing in elsewhere meanwhile is no reason to ask again."""
    assert sets(asked(), noor)
    assert on_the_page(EMAIL, NEW).status_code == 302


def test_a_link_that_waits_is_withdrawn_with_its_address(noor: User) -> None:
    """Another address gets no email with a link that is dead, and the text goes."""
    asked()
    move_away(noor, make_admin())
    waiting = OutboxMessage.objects.get(kind="password-reset")
    assert (waiting.state, waiting.body) == ("superseded", "")


@pytest.mark.parametrize("has_left", [True, False])
def test_a_form_of_consent_ends_with_the_address_that_it_went_to(
    noor: User, has_left: bool
) -> None:
    """Whoever reads the guardian's old mailbox consents to nothing; the guardian is asked anew."""
    make_policy()
    wren = make_minor("Wren Ashgrove", guardian=noor, consent=False)
    ask_for_consent(student_id=wren.pk, now=NOW)
    form = re.findall(r"/consent/\S+", OutboxMessage.objects.get(kind="consent").body)[0]
    assert Client().get(form).status_code == 200
    if has_left:
        assert outbox.drain(lambda: NOW) == 1
    move_away(noor, make_admin())
    assert Client().get(form).status_code == 404
    assert Client().post(form, {"agree": "yes", "wording": "2026-11"}).status_code == 404
    assert not ask_for_consent(student_id=wren.pk, now=NOW)  # the change of address did
    (waiting,) = OutboxMessage.objects.filter(kind="consent", state="due")
    assert waiting.to_address == "new@rowanmere.example"
