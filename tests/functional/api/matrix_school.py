"""The part of the authorisation matrix that is about what a school is made of."""

from tests.functional.api.matrix_rows import Route, everybody

SCHOOL: dict[tuple[str, str], Route] = {
    ("GET", "offerings/"): Route(lambda w: "offerings/", everybody(200)),
    ("GET", "offerings/<id:pk>/techniques/"): Route(
        lambda w: f"offerings/{w.school.consultation.pk}/techniques/", everybody(200)
    ),
    ("PUT", "offerings/<id:pk>/techniques/"): Route(
        lambda w: f"offerings/{w.school.consultation.pk}/techniques/",
        (403, 403, 403, 403, 403, 200),
        lambda w: {"techniques": ["tone", "rhythm"]},
    ),
    ("POST", "offerings/"): Route(
        lambda w: "offerings/",
        (403, 403, 403, 403, 403, 201),
        lambda w: {"name": "Harp talk", "kind": "consultation", "minutes": 30},
    ),
    ("GET", "offerings/<id:pk>/"): Route(
        lambda w: f"offerings/{w.school.consultation.pk}/", everybody(200)
    ),
    ("PATCH", "offerings/<id:pk>/"): Route(
        lambda w: f"offerings/{w.school.consultation.pk}/",
        (403, 403, 403, 403, 403, 200),
        lambda w: {"summary": "One obstacle."},
    ),
    ("GET", "policies/"): Route(lambda w: "policies/", (403, 403, 403, 403, 403, 200)),
    ("POST", "policies/"): Route(
        lambda w: "policies/", (403, 403, 403, 403, 403, 201), lambda w: {"horizon_days": 70}
    ),
}
