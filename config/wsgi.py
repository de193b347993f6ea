"""The WSGI application."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

application = get_wsgi_application()

from bookings.tasks import serve_outbox  # noqa: E402  the applications are loaded by now
from config.starting import announce  # noqa: E402

announce("web")
serve_outbox()
