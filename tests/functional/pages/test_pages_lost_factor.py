"""A lost second factor: one audited act of an admin, or a command for a school whose only admin
lost theirs.
"""

from io import StringIO

import pytest
from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from django.core.management import CommandError, call_command

from accounts.models import User
from bookings.models import AuditRow, OutboxMessage
from tests.cast import make_admin, make_user
from tests.functional.api.client import snapshot
from tests.functional.pages.school import School, as_user, text_of
from tests.functional.pages.second_factor import with_factor
from tests.functional.pages.sessions import is_let_in, reads_me, token_of

WHY = "Ilse lost the phone and rang from the number we know."


def factors(user: User) -> int:
    """How many factors the person has, recovery codes counted."""
    return Authenticator.objects.filter(user=user).count()


def page_of(user: User) -> str:
    """Where an admin resets that person's second factor."""
    return f"/people/accounts/{user.pk}/second-factor/"


def test_an_admin_resets_a_lost_factor_in_one_act(school: School) -> None:
    """App and recovery codes go, every session and token ends, the act is audited with its reason,
    the person is written to.

    Source: OWASP Multifactor Authentication Cheat Sheet, resetting MFA.
    """
    ilse = school.ilse.user
    with_factor(ilse)
    browser, token = as_user(ilse), token_of(ilse)
    dag, page = as_user(school.dag), page_of(ilse)
    account = f"/people/accounts/{ilse.pk}/"
    assert page in text_of(dag.get(account))
    assert "Ilse Quarrow" in text_of(dag.get(page))
    assert dag.post(page, {"reason": WHY}).url == account
    assert factors(ilse) == 0
    assert not reads_me(browser)
    assert not is_let_in(token)
    row = AuditRow.objects.get(verb="reset second factor")
    assert (row.actor, row.thing, row.thing_id, row.reason) == (school.dag, "user", ilse.pk, WHY)
    email = OutboxMessage.objects.get(kind="second-factor")
    assert email.to_address == ilse.email
    assert "Dag Emberley" in email.body
    assert "/accounts/2fa/" in email.body
    assert WHY not in email.body
    assert page not in text_of(dag.get(account))


def test_nothing_is_reset_without_a_reason_or_a_factor(school: School) -> None:
    """Without a reason the form comes back; where there is no factor the page says so; neither
    writes anything.
    """
    ilse, dag = school.ilse.user, as_user(school.dag)
    before = snapshot()
    assert dag.post(page_of(ilse), {"reason": WHY}).status_code == 409
    with_factor(ilse)
    assert dag.post(page_of(ilse), {"reason": "  "}).status_code == 422
    assert dag.post("/people/accounts/999999/second-factor/", {"reason": WHY}).status_code == 404
    assert factors(ilse) == 2
    assert snapshot() == before


def test_nobody_resets_their_own_factor_here(school: School) -> None:
    """A stolen session must not throw its owner's factor away: one's own page asks for the password
    or a code first.
    """
    with_factor(school.dag)
    dag, before = as_user(school.dag), snapshot()
    assert dag.post(page_of(school.dag), {"reason": WHY}).status_code == 403
    assert factors(school.dag) == 2
    assert snapshot() == before


def test_a_command_resets_the_factor_of_a_sole_admin(db: None) -> None:
    """For whoever runs the machine: the same act, without an actor, and the email goes too."""
    dag = make_admin(email="dag@rowanmere.example")
    with_factor(dag)
    token, said = token_of(dag), StringIO()
    call_command("reset_second_factor", "DAG@rowanmere.example", "--reason", WHY, stdout=said)
    assert "Dag Emberley" in said.getvalue()
    assert factors(dag) == 0
    assert not is_let_in(token)
    row = AuditRow.objects.get(verb="reset second factor")
    assert (row.actor, row.reason) == (None, WHY)
    assert "Somebody who runs" in OutboxMessage.objects.get(kind="second-factor").body


@pytest.mark.parametrize("address", ["nobody@rowanmere.example", "somebody@rowanmere.example"])
def test_the_command_says_what_is_wrong(db: None, address: str) -> None:
    """An unknown address, and a person without a second factor, end it with a sentence."""
    make_user(email="somebody@rowanmere.example")
    with pytest.raises(CommandError, match=r"[.]$"):
        call_command("reset_second_factor", address, "--reason", WHY)
    assert not AuditRow.objects.exists()


def test_an_old_address_of_the_library_resets_no_password(school: School) -> None:
    """The library's own table of addresses is no way in: a reset writes nothing into it."""
    for address in ("old@rowanmere.example", school.ilse.user.email):
        as_user(None).post("/accounts/password/reset/", {"email": address})
    assert not EmailAddress.objects.exists()
    links = OutboxMessage.objects.filter(kind="password-reset")
    assert [message.to_address for message in links] == [school.ilse.user.email]
