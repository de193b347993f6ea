"""Who is let through to what is stored of a person, and to an address that cannot be reached."""

from bookings.models import EmailTrouble
from bookings.outbox.address_proofs import proof_of
from tests.cast import NOW
from tests.functional.pages.roles import ADMIN, STUDENT
from tests.functional.pages.school import School

_OF_FAMILIES = (
    "own-data",
    "export-data",
    "ask-access",
    "access-file",
    "take-back-access",
    "erase-data",
    "take-back-erasure",
)
OWN_DATA = {
    **{route: {STUDENT, ADMIN} for route in _OF_FAMILIES},
    "retention": {ADMIN},
    "approve-access": {ADMIN},
    "approve-erasure": {ADMIN},
}
EMAIL_TROUBLES = {
    "email-trouble": {ADMIN},
    "ask-for-proof": {STUDENT},
    "prove-address": {STUDENT},
}


def trouble_pages(school: School) -> dict[str, str]:
    """The pages about Noor's address, which cannot be reached, by the name of their route."""
    noor = school.noor.user
    assert noor is not None
    trouble, _ = EmailTrouble.objects.get_or_create(
        address=noor.email,
        owner=noor,
        why="gone",
        status="5.1.1",
        last_on=NOW.date(),
        marked_at=NOW,
    )
    return {
        "email-trouble": f"/people/addresses/{trouble.pk}/",
        "ask-for-proof": "/me/address/",
        "prove-address": f"/me/address/{proof_of(trouble)}/",
    }
