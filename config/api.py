"""Settings of the libraries behind the HTTP API: the REST framework, its tokens, its schema."""

from datetime import timedelta
from typing import Any

TOKENS: dict[str, Any] = {
    "TOKEN_TTL": timedelta(days=30),
    "TOKEN_LIMIT_PER_USER": None,
    "AUTO_REFRESH": False,
    "AUTH_HEADER_PREFIX": "Bearer",
}
SCHEMA: dict[str, Any] = {
    "TITLE": "Levare",
    "DESCRIPTION": "Consultations, group meetings and the calendars that follow from them.",
    "VERSION": "1.0.0",
    "OAS_VERSION": "3.1.1",
    "SERVE_INCLUDE_SCHEMA": False,
    "SERVE_PERMISSIONS": ["rest_framework.permissions.AllowAny"],
    "SCHEMA_PATH_PREFIX": r"/api/v1",
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
    "REDOC_DIST": "SIDECAR",
    "COMPONENT_SPLIT_REQUEST": True,
    "COMPONENT_SPLIT_PATCH": False,  # each form declares its optional fields
    "WEBHOOKS": ["bookings.api.webhook_serializers.EVENT_WEBHOOK"],
    "ENUM_NAME_OVERRIDES": {
        "Attendance": "bookings.domain.vocabulary.Attendance",
        "BookingStanding": "bookings.domain.vocabulary.Standing",
        "FeedKind": ["meetings", "roster", "free-busy"],
        "LeftOutCode": ["own-clash", "consent-missing"],
        "GoalOutcome": "bookings.domain.vocabulary.GoalOutcome",
        "LessonOutcome": [
            *("given", "forfeited", "lapsed", "owed", "to-come", "unmarked", "carried-out"),
        ],
        "MeetingOutcome": [
            *("taught", "missed", "missed-with-notice", "cancelled-late", "called-off"),
            *("instructor-absent", "nobody-booked", "register-open"),
        ],
        "MeetingStatus": "bookings.domain.vocabulary.MeetingStatus",
        "MoveRequestStanding": ["OPEN", "ACCEPTED", "REFUSED", "CLOSED"],
        "NoteStanding": ["DRAFT", "RELEASED"],
        "OfferingKind": ["consultation", "private-lesson", "group-meeting", "masterclass"],
        "PlaceKind": ["player", "listener"],
        "RefusalCode": "bookings.api.problem_schemas.CODE_CHOICES",
        "Role": ["student", "guardian", "instructor", "admin"],
    },
}


def rest_framework(
    *, user_rate: str, anonymous_rate: str, busy_calendar_rate: str, proxies: int
) -> dict[str, Any]:
    """The framework's settings. Rates are such as "600/min"; `proxies` are the school's own."""
    return {
        # bookings.api.views.ApiView says how a call is authenticated, read and negotiated.
        "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
        "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
        "DEFAULT_SCHEMA_CLASS": "bookings.api.schema.ProblemSchema",
        "EXCEPTION_HANDLER": "bookings.api.problems.handle",
        "DEFAULT_THROTTLE_CLASSES": [
            "bookings.api.throttles.ScopedRate",
            "bookings.api.throttles.AnonRate",
            "bookings.api.throttles.UserRate",
        ],
        "DEFAULT_THROTTLE_RATES": {
            "user": user_rate,
            "anon": anonymous_rate,
            "busy-calendars": busy_calendar_rate,
        },
        "NUM_PROXIES": proxies,
        "UNAUTHENTICATED_USER": "django.contrib.auth.models.AnonymousUser",
        "TEST_REQUEST_DEFAULT_FORMAT": "json",
    }
