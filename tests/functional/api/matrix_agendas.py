"""The part of the authorisation matrix that is about the order of players."""

from datetime import timedelta

from bookings.domain.timeline import rfc3339
from tests.functional.api.matrix_rows import Route

AGENDAS: dict[tuple[str, str], Route] = {
    ("GET", "meetings/<id:pk>/agenda/"): Route(
        lambda w: f"meetings/{w.played.meeting_id}/agenda/", (200, 404, 404, 200, 404, 200)
    ),
    ("PUT", "meetings/<id:pk>/agenda/"): Route(
        lambda w: f"meetings/{w.played.meeting_id}/agenda/",
        (403, 404, 404, 403, 404, 200),
        lambda w: {"players": [{"booking": w.played.pk, "minutes": 20, "leaves_by": None}]},
    ),
    ("PUT", "bookings/<id:pk>/leaves-by/"): Route(
        lambda w: f"bookings/{w.played.pk}/leaves-by/",
        (200, 404, 404, 403, 404, 200),
        lambda w: {"leaves_by": rfc3339(w.played.starts_at + timedelta(minutes=40))},
    ),
}
