"""`manage.py demo_school`: loads the invented school into the configured database."""

from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from bookings import clock
from bookings.demo import people, school


class Command(BaseCommand):
    """Migrates and loads Rowanmere Online Harp School; a second time changes nothing."""

    requires_system_checks = []  # migrate makes the checks that matter here
    help = "Migrate and load the invented school. A second time changes nothing."

    def handle(self, **options: Any) -> None:
        if settings.PRODUCTION:
            raise CommandError(
                "The invented school has a password that everybody knows: it is not loaded in "
                "production."
            )
        call_command("migrate", verbosity=0)
        loaded = school.load(now=clock.now())
        self.stdout.write(
            f"{people.SCHOOL} {'is loaded' if loaded else 'was there already'}. Everybody's "
            f"password: {people.PASSWORD}"
        )
