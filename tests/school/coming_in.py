"""An invitation by email, and the account that comes of it."""

from bookings.door import write
from bookings.models import OutboxMessage
from bookings.operations import invitations
from tests import cast
from tests.cast import NOW


def invite(dag, **more):
    """The secret of an invitation for Ida Quince."""
    write(
        lambda: invitations.invite(
            actor=dag, email="New@Rowanmere.example", name="Ida Quince", now=NOW, **more
        ),
        now=NOW,
    )
    return OutboxMessage.objects.latest("id").body.split("/welcome/")[1].split("/")[0]


def come_in(secret, now=NOW):
    """The user whom the invitation brings in."""
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
