"""`manage.py audit_places`: whether the rows agree with each other and with the guards.

It changes nothing.
"""

import json
from dataclasses import asdict
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from bookings.queries.places_audit import findings


class Command(BaseCommand):
    help = (
        "Reads counters, times, queues and offers against the rows; one line for each finding, and "
        "exit code 1 where there is any."
    )
    requires_system_checks = []  # a missing guard is a finding here

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--json",
            action="store_true",
            help='one JSON object: {"findings": [{"rule", "thing", "id", "sentence"}]}',
        )

    def handle(self, *args: Any, **options: Any) -> None:
        found = list(findings())
        if options["json"]:
            self.stdout.write(json.dumps({"findings": [asdict(one) for one in found]}))
        else:
            for one in found:
                self.stdout.write(one.line())
        if found:
            raise CommandError(
                f"{len(found)} {'finding' if len(found) == 1 else 'findings'}.", returncode=1
            )
        if not options["json"]:
            self.stdout.write("Nothing found: the rows agree.")
