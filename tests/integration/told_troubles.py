"""The emails behind tests/golden/mails about addresses that cannot be reached."""

from bookings import notices
from bookings.models import EmailTrouble
from tests.cast import NOW
from tests.integration.told_words import Told
from tests.school.golden import School


def troubles(school: School) -> Told:
    """An admin is told of one address, and of three; its reader tries it again."""
    noor, hedda = school.noor.user, school.hedda
    assert noor is not None
    one = EmailTrouble(
        pk=school.key(), address=noor.email, owner=noor, why="gone", status="5.1.1", last_on=NOW
    )
    yield "address_gone", notices.addresses_unreachable(school.dag, [one], now=NOW)
    more = [
        one,
        EmailTrouble(address=hedda.email, owner=hedda, why="complaint"),
        EmailTrouble(address="robin@marsh.example", why="repeated", status="4.4.7"),
    ]
    yield "addresses_gone", notices.addresses_unreachable(school.dag, more, now=NOW)
    yield "address_tried", notices.address_to_prove(noor, "5f1c" * 16, key="5f1c", now=NOW)
