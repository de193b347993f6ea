"""The part of the authorisation matrix that is about a person's own data."""

from tests.functional.api.matrix_rows import Route

PRIVACY: dict[tuple[str, str], Route] = {
    ("GET", "students/<id:pk>/export/"): Route(
        lambda w: f"students/{w.learner.pk}/export/", (200, 404, 404, 404, 404, 422)
    ),
    ("POST", "students/<id:pk>/export/"): Route(
        lambda w: f"students/{w.learner.pk}/export/",
        (200, 404, 404, 404, 404, 200),
        lambda w: {"reason": "A question"},
    ),
    ("GET", "students/<id:pk>/access-export/"): Route(
        lambda w: f"students/{w.learner.pk}/access-export/", (200, 404, 404, 404, 404, 404)
    ),
    ("GET", "students/<id:pk>/privacy/"): Route(
        lambda w: f"students/{w.learner.pk}/privacy/", (200, 404, 404, 404, 404, 200)
    ),
    ("POST", "students/<id:pk>/privacy/"): Route(
        lambda w: f"students/{w.school.posy.pk}/privacy/",
        (404, 404, 201, 404, 404, 201),
        lambda w: {"wanted": "access", "reason": "A question"},
    ),
    ("POST", "students/<id:pk>/privacy/approve/"): Route(
        lambda w: f"students/{w.learner.pk}/privacy/approve/",
        (403, 403, 403, 403, 403, 200),
        lambda w: {"wanted": "erasure"},
    ),
    ("POST", "students/<id:pk>/privacy/take-back/"): Route(
        lambda w: f"students/{w.learner.pk}/privacy/take-back/",
        (200, 404, 404, 404, 404, 200),
        lambda w: {"wanted": "erasure"},
    ),
}
