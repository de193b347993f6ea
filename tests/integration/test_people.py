"""People come by invitation, once; a minor's account needs a guardian."""

from datetime import timedelta

import pytest

from accounts.models import Guardianship, Instructor, User, Welcome
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import OutboxMessage
from bookings.operations import consents, invitations
from bookings.queries.consents import has_consent
from tests import cast
from tests.cast import NOW

pytestmark = pytest.mark.django_db


@pytest.fixture
def dag():
    return cast.make_admin()


def invite(dag, **more):
    write(
        lambda: invitations.invite(
            actor=dag, email="New@Rowanmere.example", name="Ida Quince", now=NOW, **more
        ),
        now=NOW,
    )
    return OutboxMessage.objects.latest("id").body.split("/welcome/")[1].split("/")[0]


def come_in(secret, now=NOW):
    return write(
        lambda: invitations.come_in(
            secret=secret,
            name="Ida Quince",
            time_zone="Pacific/Chatham",
            password=cast.PASSWORD,
            now=now,
        ),
        now=now,
    )


def refused(code, act):
    with pytest.raises(Refused) as caught:
        act()
    assert caught.value.code == code


def test_an_invited_instructor_comes_in_once(dag):
    """The letter's form makes her account; a second use finds nothing. Only the secret's digest was stored."""
    secret = invite(dag, as_instructor=True)
    assert secret not in Welcome.objects.get().secret_digest
    user = come_in(secret)
    assert (user.email, user.zone, Instructor.objects.get().user) == (
        "new@rowanmere.example",
        "Pacific/Chatham",
        user,
    )
    refused("not-found", lambda: come_in(secret))


def test_a_letter_lasts_two_weeks(dag):
    """Expired and unknown look the same."""
    secret = invite(dag, as_instructor=True)
    refused("not-found", lambda: come_in(secret, now=NOW + timedelta(days=14)))
    refused("not-found", lambda: come_in("guess"))


def test_a_guardian_comes_in_for_her_child_without_consent_yet(dag):
    """Coming in is not consenting: that is an act of its own."""
    posy = cast.make_minor()
    Guardianship.objects.all().delete()
    user = come_in(invite(dag, guardian_of=posy))
    assert Guardianship.objects.get().guardian == user
    assert not has_consent(posy, now=NOW)


def test_a_minor_has_no_account_without_a_guardian(dag):
    """The guardian is invited first."""
    posy = cast.make_minor()
    Guardianship.objects.all().delete()
    refused("not-allowed", lambda: invite(dag, student=posy))


def test_an_existing_account_gains_the_role_and_keeps_its_password(dag):
    """An invitation to a known address adds to that account."""
    known = cast.make_user(
        "Ida Quince", email="new@rowanmere.example", password="the-old-one-stays"
    )
    assert come_in(invite(dag, as_instructor=True)) == known
    assert User.objects.get(pk=known.pk).check_password("the-old-one-stays")


def test_somebody_elses_secret_is_no_consent():
    """A guess, and the empty digest of a form never mailed, find nothing."""
    cast.make_minor(consent=False)
    for guess in ("", "guess"):
        refused(
            "not-found",
            lambda guess=guess: consents.give_consent(secret=guess, wording="2026-11", now=NOW),
        )
