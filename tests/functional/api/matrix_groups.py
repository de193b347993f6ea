"""The part of the authorisation matrix that is about running group meetings."""

from datetime import timedelta

from bookings.domain.timeline import rfc3339
from tests.functional.api.matrix_rows import Route

GROUPS: dict[tuple[str, str], Route] = {
    ("PUT", "meetings/<id:pk>/minimum/"): Route(
        lambda w: f"meetings/{w.uncertain.pk}/minimum/",
        (404, 404, 404, 200, 404, 200),
        lambda w: {
            "minimum": 1,
            "decide_by": rfc3339(w.uncertain.starts_at - timedelta(hours=30)),
        },
    ),
    ("POST", "meetings/<id:pk>/waiting-list/add/"): Route(
        lambda w: f"meetings/{w.offer.meeting_id}/waiting-list/add/",
        (404, 404, 404, 403, 404, 201),
        lambda w: {"student": w.school.marlo.pk, "reason": "By telephone"},
    ),
    ("POST", "meetings/<id:pk>/waiting-list/hold-next/"): Route(
        lambda w: f"meetings/{w.offer.meeting_id}/waiting-list/hold-next/",
        (404, 404, 404, 403, 404, 200),
        lambda w: {"student": w.school.marlo.pk, "reason": "By telephone"},
    ),
    ("POST", "meetings/<id:pk>/waiting-list/let-go/"): Route(
        lambda w: f"meetings/{w.meeting.pk}/waiting-list/let-go/",
        (404, 404, 404, 403, 404, 200),
        lambda w: {"student": w.learner.pk, "as": "listener", "reason": "Done"},
    ),
    ("POST", "meetings/<id:pk>/waiting-list/remove/"): Route(
        lambda w: f"meetings/{w.meeting.pk}/waiting-list/remove/",
        (404, 404, 404, 403, 404, 204),
        lambda w: {"student": w.learner.pk, "as": "listener", "reason": "Asked to"},
    ),
    ("POST", "meetings/<id:pk>/it-runs/"): Route(
        lambda w: f"meetings/{w.uncertain.pk}/it-runs/", (404, 404, 404, 403, 404, 200)
    ),
}
