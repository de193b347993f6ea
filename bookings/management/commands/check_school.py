"""`manage.py check_school`: what the school still lacks before a lesson can be booked.

It changes nothing.
"""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from bookings import clock
from bookings.queries.setting_up import steps


class Command(BaseCommand):
    help = (
        "Prints each part of a school as done or missing, as on the page Setting up; exit code 1 "
        "while something is missing."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        found = steps(now=clock.now())
        for step in found:
            state = "done" if step.is_done else "missing"
            self.stdout.write(f"{state:<8} {step.title}. {step.sentence} {step.also}".rstrip())
        missing = sum(not step.is_done for step in found)
        if missing:
            raise CommandError(f"Missing: {missing}.", returncode=1)
        self.stdout.write("Nothing is missing: lessons can be booked.")
