"""The Celery application. It works the outbox where a broker is configured."""

import os
from typing import Any

from celery import Celery
from celery.signals import beat_init, setup_logging, worker_ready
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
    """Leaves logging of worker and beat to the settings: with a receiver here, Celery does not set
    it up.
    """


@worker_ready.connect
def worker_says_its_profile(**_: Any) -> None:
    """Logs the worker's profile. The applications are loaded by now, and not before."""
    from config.starting import announce

    announce("worker")


@beat_init.connect
def beat_says_its_profile(**_: Any) -> None:
    from config.starting import announce

    announce("beat")


@receiver(modify_context_before_task_publish)
def only_ids_travel(context: dict[str, Any], **_: Any) -> None:
    """Keeps the address of the request out of task messages.

    Their log lines name only the request and the person.
    """
    context.pop("ip", None)
