"""`manage.py erasures`: who has been erased, for the file that a restore needs."""

from typing import Any

from django.core.management.base import BaseCommand

from bookings.queries.privacy import erased_students


class Command(BaseCommand):
    """It prints ids and nothing else: keep the file beside the back-ups, not in them."""

    help = "Prints the id of each student who has been erased, one a line."

    def handle(self, *args: Any, **options: Any) -> None:
        for student_id in erased_students():
            self.stdout.write(str(student_id))
