"""The part of the authorisation matrix that is about statements of hours."""

from bookings.models import Mark
from tests import cast
from tests.cast import NOW, at
from tests.functional.api.matrix_rows import Route
from tests.functional.api.world import World


def after_december(world: World) -> str:
    """The list, once Ilse has taught a lesson in December 2025, however often this is asked."""
    taught_at = at("2025-12-10T16:00Z")
    if Mark.objects.filter(booking__starts_at=taught_at).exists():
        return "statements/"
    place = cast.taught(world.school.ilse, world.learner, world.school.consultation, taught_at)
    Mark.objects.create(booking=place, attendance="PRESENT", marked_at=NOW)
    return "statements/"


STATEMENTS: dict[tuple[str, str], Route] = {
    ("GET", "statements/"): Route(lambda w: "statements/", (403, 403, 403, 200, 200, 200)),
    ("POST", "statements/"): Route(
        after_december,
        (403, 403, 403, 403, 403, 201),
        lambda w: {
            "instructor": w.school.ilse.pk,
            "first_on": "2025-12-01",
            "last_on": "2025-12-31",
        },
    ),
    ("GET", "statements/<id:pk>/"): Route(
        lambda w: f"statements/{w.statement.pk}/", (403, 403, 403, 200, 404, 200)
    ),
    ("POST", "statements/<id:pk>/correct/"): Route(
        lambda w: f"statements/{w.statement.pk}/correct/", (403, 403, 403, 403, 403, 200)
    ),
}
