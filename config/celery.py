"""The Celery application: the engine of the outbox where a broker is configured."""

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
    """Worker and beat log as the settings say: with a receiver here Celery leaves logging alone."""


@worker_ready.connect
def worker_says_its_profile(**_: Any) -> None:
    """The applications are loaded by now, and not before."""
    from config.starting import announce

    announce("worker")


@beat_init.connect
def beat_says_its_profile(**_: Any) -> None:
    from config.starting import announce

    announce("beat")


@receiver(modify_context_before_task_publish)
def only_ids_travel(context: dict[str, Any], **_: Any) -> None:
    """A task's lines name the request and the person that it follows from, not the address that the request came from."""
    context.pop("ip", None)
