"""The Celery application: the engine of the outbox where a broker is configured."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

app = Celery("levare")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["bookings"])
