"""`manage.py drain_outbox`: send what is due now, by hand or from cron."""

from typing import Any

from django.core.management.base import BaseCommand

from bookings import clock, outbox


class Command(BaseCommand):
    help = "Sends every message that is due and prints how many left."

    def handle(self, *args: Any, **options: Any) -> None:
        total = 0
        while sent := outbox.drain(clock.now):
            total += sent
        self.stdout.write(f"{total} sent.")
