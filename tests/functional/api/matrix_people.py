"""The part of the authorisation matrix that is about guardianships, the bar on one, and what needs
an admin.
"""

from accounts.models import Guardianship
from bookings.models import EmailTrouble
from tests.cast import NOW
from tests.functional.api.matrix_rows import Cells, Route
from tests.functional.api.world import World

ADMINS: Cells = (403, 403, 403, 403, 403, 200)


def barred_row(world: World) -> Guardianship:
    return world.barred.guardianships.get()


def bounced(address: str = "gone@rowanmere.example") -> EmailTrouble:
    """An address that cannot be reached, made once; nobody has an account with it."""
    row, _ = EmailTrouble.objects.get_or_create(
        address=address,
        defaults={
            "why": EmailTrouble.Why.GONE,
            "status": "5.1.1",
            "last_on": NOW.date(),
            "marked_at": NOW,
        },
    )
    return row


PEOPLE: dict[tuple[str, str], Route] = {
    ("GET", "needs/"): Route(lambda w: "needs/", ADMINS),
    ("GET", "email-troubles/"): Route(lambda w: "email-troubles/", ADMINS),
    ("GET", "email-troubles/<id:pk>/"): Route(lambda w: f"email-troubles/{bounced().pk}/", ADMINS),
    ("DELETE", "email-troubles/<id:pk>/"): Route(
        lambda w: f"email-troubles/{bounced().pk}/", (403, 403, 403, 403, 403, 204)
    ),
    ("GET", "guardianships/"): Route(lambda w: "guardianships/", ADMINS),
    ("GET", "guardianships/<id:pk>/"): Route(
        lambda w: f"guardianships/{barred_row(w).pk}/", ADMINS
    ),
    ("POST", "guardianships/<id:pk>/bar/"): Route(
        lambda w: f"guardianships/{w.second.pk}/bar/",
        ADMINS,
        lambda w: {"reason": "See the file."},
    ),
    ("POST", "guardianships/<id:pk>/lift-bar/"): Route(
        lambda w: f"guardianships/{barred_row(w).pk}/lift-bar/", ADMINS
    ),
}
