"""`manage.py erase_again FILE`: applies erasures again after an older back-up was restored."""

import sys
from functools import partial
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from bookings import clock
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.operations.erasing import erase_again
from bookings.queries.people import account_of_email


class Command(BaseCommand):
    """Run it before the restored school is opened: a student added later could get an id that is
    in the file. A dry run unless --write is given.
    """

    help = "Erases each student whose id stands in FILE, as `manage.py erasures` printed it."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", help="ids of students, one a line; - for what is piped in")
        parser.add_argument("--by", required=True, metavar="EMAIL", help="the admin who does it")
        parser.add_argument(
            "--write",
            action="store_true",
            dest="is_written",
            help="do it; without this nothing is written",
        )

    def handle(self, *args: Any, file: str, by: str, is_written: bool, **options: Any) -> None:
        piped = file == "-"
        lines = (sys.stdin.read() if piped else Path(file).read_text(encoding="utf-8")).split()
        if not all(line.isdecimal() for line in lines):
            raise CommandError(f"{file} holds more than ids of students, one a line.")
        admin = account_of_email(by)
        if admin is None or not (admin.is_staff and admin.is_active):
            raise CommandError("Name an admin with --by.")
        if not is_written:
            self.stdout.write(f"{len(lines)} to erase. Nothing was written: add --write.")
            return
        for student_id in map(int, lines):
            now = clock.now()
            act = partial(erase_again, actor=admin, student_id=student_id, now=now)
            try:
                gone = write(act, now=now)
            except Refused as refusal:
                if refusal.code != "not-found":
                    raise CommandError(str(refusal)) from refusal
                self.stdout.write(f"{student_id}: not in this back-up")
            else:
                self.stdout.write(f"{gone.student}: erased, with {len(gone.accounts)} accounts")
