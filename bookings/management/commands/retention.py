"""`manage.py retention`: what the school lets go of today, and with --write lets go of it."""

from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from bookings import clock
from bookings.letting_go import let_go_now
from bookings.queries.retention import due


class Command(BaseCommand):
    """A dry run unless --write is given. It may be stopped at any time and run again."""

    help = (
        "Says how many rows of each kind are past their retention time, and since when; with "
        "--write, lets go of them now instead of once a day."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--write",
            action="store_true",
            dest="is_written",
            help="do it; without this nothing is written",
        )

    def handle(self, *args: Any, is_written: bool, **options: Any) -> None:
        clocks = {"now": clock.now(), "machine": clock.machine()}
        if is_written:
            for kind, gone in let_go_now(**clocks):
                self.stdout.write(f"{kind.title}: {gone} let go")
            return
        found = due(**clocks)
        for one in found:
            oldest = f", the oldest of {one.oldest:%Y-%m-%d}" if one.oldest else ""
            words = f"{one.kind.title}, kept {one.kind.kept_words}"
            self.stdout.write(f"{words}: {one.count} due{oldest}")
        total = sum(one.count for one in found)
        self.stdout.write(f"{total} rows are due. Nothing is written. To do it: --write")
