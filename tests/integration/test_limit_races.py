"""What a school may have so many of, asked for by two admins at one instant, on PostgreSQL."""

import pytest

from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import ServiceToken, Webhook
from bookings.operations import service_tokens, webhooks
from tests import cast
from tests.cast import NOW
from tests.threads import together

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres]


def make_token(actor):
    made = {"name": "Books", "scopes": ["read-people"], "days": 30}
    return service_tokens.make_service_token(actor=actor, now=NOW, **made)


def make_hook(actor):
    made = {"name": "Books", "address": "https://books.example/", "kinds": ["booking.made"]}
    return webhooks.make_webhook(actor=actor, now=NOW, **made)


@pytest.mark.parametrize("attempt", range(3))
@pytest.mark.parametrize(
    ("module", "most", "make", "rows"),
    [
        (service_tokens, "MOST_TOKENS", make_token, ServiceToken),
        (webhooks, "MOST_WEBHOOKS", make_hook, Webhook),
    ],
)
def test_two_admins_who_ask_for_the_last_one_get_one(
    module, most, make, rows, attempt, monkeypatch
):
    """One has it, and the other is refused."""
    monkeypatch.setattr(module, most, 1)
    dag, wren = cast.make_admin(), cast.make_admin("Wren Ostler")
    (refused,) = together(
        lambda: write(lambda: make(dag), now=NOW), lambda: write(lambda: make(wren), now=NOW)
    )
    assert isinstance(refused, Refused) and refused.code == "limit-reached"
    assert rows.objects.count() == 1
