"""The Celery application: the engine of the outbox where a broker is configured."""

import os
from typing import Any

from celery import Celery
from celery.signals import setup_logging
from django.dispatch import receiver
from django_structlog.celery.signals import modify_context_before_task_publish
from django_structlog.celery.steps import DjangoStructLogInitStep

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

app = Celery("levare")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["bookings"])
app.steps["worker"].add(DjangoStructLogInitStep)


@setup_logging.connect
def logs_are_set_up(**_: Any) -> None:
    """Worker and beat log as the settings say: with a receiver here Celery leaves logging alone."""


@receiver(modify_context_before_task_publish)
def only_ids_travel(context: dict[str, Any], **_: Any) -> None:
    """A task's lines name the request and the person that it follows from, not the address that the request came from."""
    context.pop("ip", None)
