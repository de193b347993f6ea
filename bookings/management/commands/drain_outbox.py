"""`manage.py drain_outbox`: sends due messages, by hand or from cron."""

from typing import Any

from django.core.management.base import BaseCommand

from bookings import clock, outbox


class Command(BaseCommand):
    help = "Sends every message that is due and prints how many left."

    def handle(self, *args: Any, **options: Any) -> None:
        sent = total = outbox.drain(clock.now)
        while sent:
            sent = outbox.drain(clock.now)
            total += sent
        self.stdout.write(f"{total} sent.")
