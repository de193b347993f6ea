"""Invitations are withdrawn; a new one voids the older one to the same person in the same role."""

import pytest

from accounts.models import User, Welcome
from bookings import outbox
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import AuditRow, OutboxMessage
from bookings.operations.invitations import come_in, invite, withdraw_invitation
from tests import cast
from tests.cast import NOW

pytestmark = pytest.mark.django_db
RIGHT, MISTYPED = "ida@rowanmere.example", "iad@rowanmere.example"


@pytest.fixture
def dag():
    return cast.make_admin()


def invited(dag, email=RIGHT, name="Ida Quince", **role) -> Welcome:
    role = role or {"as_admin": True}
    return write(lambda: invite(actor=dag, email=email, name=name, now=NOW, **role), now=NOW)


def secret_of(welcome) -> str:
    body = OutboxMessage.objects.get(subject_key=f"welcome:{welcome.pk}").body
    return body.split("/welcome/")[1].split("/")[0]


def open_ones() -> list[Welcome]:
    return list(Welcome.objects.usable(NOW).order_by("pk"))


def refused(code, act):
    with pytest.raises(Refused) as caught:
        write(act, now=NOW)
    assert caught.value.code == code


def test_a_withdrawn_invitation_opens_nothing_and_never_leaves(dag):
    """On record; the email that has not left yet is taken back with its secret."""
    welcome = invited(dag)
    secret = secret_of(welcome)
    write(lambda: withdraw_invitation(actor=dag, welcome=welcome, now=NOW), now=NOW)
    refused(
        "not-found",
        lambda: come_in(secret=secret, name="I", time_zone="UTC", password="x", now=NOW),
    )
    assert outbox.drain(lambda: NOW) == 0
    message = OutboxMessage.objects.get()
    assert (message.state, message.body) == ("superseded", "")
    assert AuditRow.objects.filter(verb="withdrew invitation", thing_id=welcome.pk).exists()


def test_an_invitation_is_withdrawn_once_and_not_after_it_was_used(dag):
    """Each says that it is open no more."""
    used, again = invited(dag), invited(dag, RIGHT, as_instructor=True)
    secret = secret_of(used)
    write(
        lambda: come_in(
            secret=secret, name="Ida", time_zone="UTC", password=cast.PASSWORD, now=NOW
        ),
        now=NOW,
    )
    refused("already-ended", lambda: withdraw_invitation(actor=dag, welcome=used, now=NOW))
    write(lambda: withdraw_invitation(actor=dag, welcome=again, now=NOW), now=NOW)
    refused("already-ended", lambda: withdraw_invitation(actor=dag, welcome=again, now=NOW))


@pytest.mark.parametrize("role", ["as_admin", "as_instructor"])
def test_a_new_invitation_voids_the_one_to_a_mistyped_address(dag, role):
    """The same name in the same role is the same person, however the address was typed."""
    invited(dag, MISTYPED, **{role: True})
    right = invited(dag, RIGHT, name=" ida quince", **{role: True})
    assert open_ones() == [right]


def test_a_new_invitation_voids_the_one_to_the_same_address(dag):
    """Under another name too: one mailbox, one open key."""
    invited(dag, RIGHT, name="I. Quince")
    again = invited(dag, RIGHT)
    assert open_ones() == [again]


def test_two_guardians_of_one_child_are_two_people(dag):
    """Invited one after the other, both come in."""
    posy = cast.make_minor()
    both = [
        invited(dag, "a@rowanmere.example", "Ann Reed", guardian_of=posy),
        invited(dag, "b@rowanmere.example", "Bo Reed", guardian_of=posy),
    ]
    assert open_ones() == both


def test_another_role_or_another_child_is_another_invitation(dag):
    """Each gives something of its own."""
    posy, kit = cast.make_minor(), cast.make_minor("Kit Fell", guardian=cast.make_user("Ines Fell"))
    both = [invited(dag, as_admin=True), invited(dag, as_instructor=True)]
    both += [invited(dag, guardian_of=posy), invited(dag, guardian_of=kit)]
    assert open_ones() == both


def test_a_closed_account_is_not_invited_and_comes_in_by_no_older_invitation(dag):
    """It is opened again by the school, or stays closed."""
    secret = secret_of(invited(dag))
    User.objects.filter(pk=cast.make_user("Ida Quince", email=RIGHT).pk).update(is_active=False)
    refused("not-allowed", lambda: invite(actor=dag, email=RIGHT, name="I", as_admin=True, now=NOW))
    refused(
        "not-allowed",
        lambda: come_in(secret=secret, name="I", time_zone="UTC", password="", now=NOW),
    )


def test_only_an_admin_invites_and_withdraws(dag):
    """The operations ask, whichever interface calls."""
    welcome, noor = invited(dag), cast.make_student().user
    refused("not-allowed", lambda: withdraw_invitation(actor=noor, welcome=welcome, now=NOW))
    refused(
        "not-allowed", lambda: invite(actor=noor, email=RIGHT, name="I", as_admin=True, now=NOW)
    )


def _opens(secret):
    return come_in(
        secret=secret, name="Ida Quince", time_zone="UTC", password=cast.PASSWORD, now=NOW
    )


@pytest.mark.parametrize("of", ["themselves", "another"])
def test_a_minor_becomes_nobodys_guardian(dag, of):
    """Not their own either, who would give consent for themselves; nor by an older invitation."""
    posy = cast.make_minor()
    child = posy if of == "themselves" else cast.make_minor("Wren Fell")
    secret = secret_of(invited(dag, guardian_of=child))
    posy.user, posy.own_name = cast.make_user("Posy Reed", email=RIGHT), ""
    posy.save()
    refused(
        "not-allowed", lambda: invite(actor=dag, email=RIGHT, name="P", guardian_of=child, now=NOW)
    )
    refused("not-allowed", lambda: _opens(secret))
    assert not child.guardianships.filter(guardian=posy.user).exists()


@pytest.mark.parametrize("barred", [False, True])
def test_a_guardians_account_becomes_no_minors_own(dag, barred):
    """Who is barred would read as the child what they may not read as the guardian."""
    posy = cast.make_minor()
    secret = secret_of(invited(dag, student=posy))
    ida = cast.make_user("Ida Quince", email=RIGHT)
    posy.guardianships.create(
        guardian=ida, barred_at=NOW if barred else None, barred_why="See the file." * barred
    )
    refused("not-allowed", lambda: invite(actor=dag, email=RIGHT, name="P", student=posy, now=NOW))
    refused("not-allowed", lambda: _opens(secret))
    posy.refresh_from_db()
    assert posy.user is None
