"""The part of the authorisation matrix that is about exchanges of weekly places."""

from tests.functional.api.matrix_rows import Route, everybody

EXCHANGES: dict[tuple[str, str], Route] = {
    ("GET", "weekly-places/<id:pk>/wishes/"): Route(
        lambda w: f"weekly-places/{w.weekly.pk}/wishes/", (200, 404, 404, 403, 404, 200)
    ),
    ("PUT", "weekly-places/<id:pk>/wishes/"): Route(
        lambda w: f"weekly-places/{w.weekly.pk}/wishes/",
        (200, 404, 404, 403, 404, 200),
        lambda w: {"weekly_places": []},
    ),
    ("GET", "exchanges/"): Route(lambda w: "exchanges/", everybody(200)),
    ("GET", "exchanges/<id:pk>/"): Route(
        lambda w: f"exchanges/{w.exchange.pk}/", (200, 404, 404, 404, 404, 200)
    ),
    ("POST", "exchanges/<id:pk>/accept/"): Route(
        lambda w: f"exchanges/{w.exchange.pk}/accept/", (200, 404, 404, 404, 404, 200)
    ),
    ("POST", "exchanges/<id:pk>/decline/"): Route(
        lambda w: f"exchanges/{w.exchange.pk}/decline/", (200, 404, 404, 404, 404, 200)
    ),
}
