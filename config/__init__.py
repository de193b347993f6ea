"""The project's wiring.

Importing it pins the time zone database and creates the Celery application.
"""

# The pinned tzdata must win before any code derives a local time.
import bookings.domain.zones  # noqa: F401
from config.celery import app as celery_app

__all__ = ["celery_app"]
