"""The project's wiring. Importing it pins the time zone database and, where Celery is asked for, its application."""

import bookings.domain.zones  # noqa: F401  the pinned tzdata wins before anything derives a local time
from config.celery import app as celery_app

__all__ = ["celery_app"]
