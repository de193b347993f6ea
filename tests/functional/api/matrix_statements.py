"""The part of the authorisation matrix that is about statements of hours."""

from tests.functional.api.matrix_rows import Route

STATEMENTS: dict[tuple[str, str], Route] = {
    ("GET", "statements/"): Route(lambda w: "statements/", (403, 403, 403, 200, 200, 200)),
    ("POST", "statements/"): Route(
        lambda w: "statements/",
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
