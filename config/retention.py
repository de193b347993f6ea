"""How many days each kind of data is kept, from the environment."""

import environ
from django.core.exceptions import ImproperlyConfigured

LEAST = {"ROOM_ADDRESS_DAYS": 31, "CALENDAR_TRACE_DAYS": 31}
"""A feed shows the last 30 days, with the room and the SEQUENCE of each meeting."""

MOST = 36_500
"""A hundred years: every date so far back can still be computed."""


def days(env: environ.Env) -> dict[str, int]:
    """Days by the name of the setting. ImproperlyConfigured below 0 or `LEAST`, and above
    `MOST`.
    """
    kept: dict[str, int] = {
        "INTAKE_HEALTH_DAYS": env.int("INTAKE_HEALTH_DAYS", 90),
        "INTAKE_DAYS": env.int("INTAKE_DAYS", 730),
        "APPLICATION_DAYS": env.int("APPLICATION_DAYS", 90),
        "ROOM_ADDRESS_DAYS": env.int("ROOM_ADDRESS_DAYS", 60),
        "MEETING_WORDS_DAYS": env.int("MEETING_WORDS_DAYS", 365),
        "LEAVER_DAYS": env.int("LEAVER_DAYS", 1095),
        "EMAIL_TEXT_DAYS": env.int("EMAIL_TEXT_DAYS", 30),
        "EMAIL_ADDRESS_DAYS": env.int("EMAIL_ADDRESS_DAYS", 365),
        "CALENDAR_TRACE_DAYS": env.int("CALENDAR_TRACE_DAYS", 365),
        "FEED_DAYS": env.int("FEED_DAYS", 90),
        "BUSY_PAST_DAYS": env.int("BUSY_PAST_DAYS", 2),
        "INVITATION_DAYS": env.int("INVITATION_DAYS", 90),
        "DELIVERY_LOG_DAYS": env.int("DELIVERY_LOG_DAYS", 90),
        "READING_DAYS": env.int("READING_DAYS", 730),
        "REASON_DAYS": env.int("REASON_DAYS", 1095),
        "OFFICE_LOG_DAYS": env.int("OFFICE_LOG_DAYS", 365),
        "PLAN_DAYS": env.int("PLAN_DAYS", 365),
    }
    for name, number in kept.items():
        least = LEAST.get(name, 0)
        if not least <= number <= MOST:
            raise ImproperlyConfigured(f"{name}={number}: {least} to {MOST} days.")
    return kept
