"""`manage.py demo_once`: the main job on a fresh school, told step by step."""

import tempfile
import time
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from bookings.demo.client import NotSoError
from bookings.demo.server import serving
from bookings.demo.story import tell


class Command(BaseCommand):
    """Exit code 0 only if everything in the story was read back and is true."""

    help = (
        "Start the real server on a fresh demo database, do the main job over HTTP as its users "
        "and tell it."
    )
    requires_system_checks = []  # the server checks at its own start

    def handle(self, **options: Any) -> None:
        began = time.monotonic()
        with tempfile.TemporaryDirectory(prefix="levare-demo-") as folder:
            try:
                with serving(Path(folder)) as house:
                    tell(house.base, house.mailbox, say=self._say)
            except NotSoError as error:
                raise CommandError(str(error)) from error
        self._say(f"All of it is so. {time.monotonic() - began:.0f} seconds.")

    def _say(self, line: str) -> None:
        self.stdout.write(line)
        self.stdout.flush()  # flushed, so that the story can be followed through a pipe
