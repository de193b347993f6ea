"""Live sessions."""

from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.db import connections
from django.db.models.signals import post_migrate


def _install_guards(sender: AppConfig, using: str, **_: Any) -> None:
    from bookings.models import guards  # the models are ready by now

    guards.install(connections[using])


class BookingsConfig(AppConfig):
    name = "bookings"
    verbose_name = "Live sessions"

    def ready(self) -> None:
        from bookings import checks, clock

        checks.watch_retiming(clock.now)
        post_migrate.connect(_install_guards, sender=self)
        if settings.REDIS_URL and settings.PROFILE != "test":
            from bookings import outbox, tasks

            outbox.register_notifier(tasks.ask_a_worker)
