"""Email addresses are kept in lower case whichever way they come in."""

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, models, transaction

from accounts.addresses import AddressField
from accounts.models import User, Welcome
from tests import cast
from tests.cast import NOW

pytestmark = pytest.mark.django_db
COPIED = {"bookings.OutboxMessage.to_address", "bookings.EmailTrouble.address"}
"""Where messages went: a copy of an address, with its domain as mail carries it."""
TYPED, KEPT = "Ida.Quince@Rowanmere.Example", "ida.quince@rowanmere.example"


def test_every_address_of_ours_is_an_address_field():
    """Walks the models, so that a new one cannot keep capitals."""
    ours = [
        model for app in ("accounts", "bookings") for model in apps.get_app_config(app).get_models()
    ]
    plain = {
        str(field)
        for model in ours
        for field in model._meta.get_fields()
        if isinstance(field, models.EmailField) and not isinstance(field, AddressField)
    }
    assert plain == COPIED


def test_a_saved_address_is_in_lower_case_at_once():
    """The row and the object in hand say the same."""
    ida = cast.make_user("Ida Quince", email=TYPED)
    assert (ida.email, User.objects.get(pk=ida.pk).email) == (KEPT, KEPT)


def test_an_address_set_in_bulk_is_in_lower_case():
    """`update` and `bulk_create` pass by `save`."""
    ida = cast.make_user("Ida Quince")
    User.objects.filter(pk=ida.pk).update(email=TYPED)
    Welcome.objects.bulk_create(
        [
            Welcome(
                email=TYPED,
                name="Ida",
                as_admin=True,
                secret_digest="0" * 64,
                sent_at=NOW,
                good_until=NOW,
            )
        ]
    )
    assert (User.objects.get(pk=ida.pk).email, Welcome.objects.get().email) == (KEPT, KEPT)


def test_an_address_is_found_however_it_is_typed():
    """A look-up is put in lower case as a saved address is."""
    ida = cast.make_user("Ida Quince", email=TYPED)
    assert User.objects.get(email=TYPED) == ida
    assert User.objects.get_by_natural_key(TYPED) == ida


@pytest.mark.parametrize("table", ["accounts_user", "accounts_welcome"])
def test_the_database_itself_refuses_capitals(table):
    """Typed into the database past every model."""
    cast.make_user("Ida Quince")
    Welcome.objects.create(
        email=KEPT, name="Ida", as_admin=True, secret_digest="0" * 64, sent_at=NOW, good_until=NOW
    )
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(f"UPDATE {table} SET email = %s", [TYPED])
