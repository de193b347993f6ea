"""The part of the authorisation matrix that is about proposed times."""

from datetime import timedelta

from tests.functional.api.matrix_rows import Route, everybody
from tests.functional.api.school import FRIDAY

PROPOSED: dict[tuple[str, str], Route] = {
    ("GET", "proposals/"): Route(lambda w: "proposals/", everybody(200)),
    ("POST", "proposals/"): Route(
        lambda w: "proposals/",
        (404, 404, 404, 201, 404, 201),
        lambda w: {
            "student": w.learner.pk,
            "offering": w.school.consultation.pk,
            "instructor": w.school.ilse.pk,
            "starts": [(FRIDAY + timedelta(days=4)).isoformat()],
        },
    ),
    ("GET", "proposals/<id:pk>/"): Route(
        lambda w: f"proposals/{w.proposed.proposed_id}/", (200, 404, 404, 200, 404, 200)
    ),
    ("POST", "proposals/<id:pk>/take/"): Route(
        lambda w: f"proposals/{w.proposed.proposed_id}/take/",
        (200, 404, 404, 403, 404, 200),
        lambda w: {"booking": w.proposed.pk},
    ),
    ("POST", "proposals/<id:pk>/decline/"): Route(
        lambda w: f"proposals/{w.proposed.proposed_id}/decline/", (200, 404, 404, 403, 404, 200)
    ),
    ("POST", "proposals/<id:pk>/withdraw/"): Route(
        lambda w: f"proposals/{w.proposed.proposed_id}/withdraw/", (403, 404, 404, 200, 404, 200)
    ),
}
