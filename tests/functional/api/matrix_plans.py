"""The part of the authorisation matrix that is about plans."""

from typing import Any

from tests.functional.api.matrix_rows import Route
from tests.functional.api.world import World

ADMIN_ALONE = (403, 403, 403, 404, 404, 200)
"""An instructor may have plans of their own, so that of another is not there for them."""


def group_plan(world: World) -> dict[str, Any]:
    """A group plan as an admin asks for it."""
    return {
        "kind": "group",
        "inputs": {
            "offering": world.meeting.offering_id,
            "instructors": [world.school.ilse.pk],
            "students": [world.learner.pk],
            "first_on": "2027-03-03",
            "last_on": "2027-03-10",
            "mode": "series",
            "meetings": 1,
            "places": 8,
            "title": "Ornaments",
        },
    }


PLANS: dict[tuple[str, str], Route] = {
    ("GET", "plans/"): Route(lambda w: "plans/", (403, 403, 403, 200, 200, 200)),
    ("POST", "plans/"): Route(lambda w: "plans/", (403, 403, 403, 403, 403, 201), group_plan),
    ("GET", "plans/<id:pk>/"): Route(lambda w: f"plans/{w.plan.pk}/", ADMIN_ALONE),
    ("POST", "plans/<id:pk>/stop/"): Route(lambda w: f"plans/{w.solving.pk}/stop/", ADMIN_ALONE),
    ("POST", "plans/<id:pk>/adopt/"): Route(lambda w: f"plans/{w.plan.pk}/adopt/", ADMIN_ALONE),
    ("POST", "plans/<id:pk>/discard/"): Route(lambda w: f"plans/{w.plan.pk}/discard/", ADMIN_ALONE),
    ("POST", "plans/<id:pk>/ask-substitutes/"): Route(
        lambda w: f"plans/{w.covering.pk}/ask-substitutes/", ADMIN_ALONE
    ),
    ("GET", "cover-questions/"): Route(
        lambda w: "cover-questions/", (403, 403, 403, 200, 200, 403)
    ),
    ("POST", "cover-questions/<id:pk>/answer/"): Route(
        lambda w: f"cover-questions/{w.question.pk}/answer/",
        (404, 404, 404, 404, 200, 404),
        lambda w: {"says_yes": True},
    ),
}
