"""`manage.py rotate_note_keys`: seals every stored text again under the first of NOTE_KEYS."""

from functools import partial
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from accounts.sealed_columns import SealedColumn, sealed_columns
from bookings import clock
from bookings.door import write
from bookings.operations.resealing import reseal_batch
from bookings.queries.sealed import Sealed, sealed_by_key


class Command(BaseCommand):
    """It may be stopped at any time and run again: what is done already is not done twice."""

    help = (
        "Seals every stored text anew under the first key of NOTE_KEYS, in batches, and says when "
        "the older keys are needed no more."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--check", action="store_true", help="write nothing: only say which keys are needed"
        )
        parser.add_argument(
            "--at-once", type=int, default=200, metavar="ROWS", help="rows of a batch (200)"
        )

    def handle(self, *args: Any, check: bool, at_once: int, **options: Any) -> None:
        if at_once < 1:
            raise CommandError("A batch has at least one row.")
        if not check:
            for column in sealed_columns():
                self._rotate(column, at_once)
        self._judge(sealed_by_key())

    def _rotate(self, column: SealedColumn, at_once: int) -> None:
        after: object | None = None
        resealed = 0
        while True:
            act = partial(reseal_batch, column=column, after=after, size=at_once)
            batch = write(act, now=clock.now())
            if batch.last is None:
                break
            after, resealed = batch.last, resealed + batch.resealed
            if batch.resealed:
                self.stdout.write(f"{column.label}: {resealed} sealed anew, up to row {after}")
                self.stdout.flush()

    def _judge(self, found: list[Sealed]) -> None:
        """Says what each key still opens. CommandError where an older key, or an unknown one, is
        needed.
        """
        keys = len(settings.NOTE_KEYS)
        for sealed in found:
            counts = ", ".join(f"{sealed.by_key[n]} under key {n + 1}" for n in range(keys))
            self.stdout.write(f"{sealed.column.label}: {counts}")
            for pk in sealed.unknown:
                self.stderr.write(f"{sealed.column.label}, row {pk}: no key of NOTE_KEYS opens it")
        unknown = sum(len(sealed.unknown) for sealed in found)
        older = sum(sum(sealed.by_key.values()) - sealed.by_key[0] for sealed in found)
        if older:
            raise CommandError(
                f"{older} texts are still sealed under older keys. Keep every key in NOTE_KEYS, "
                "and run this again."
            )
        if unknown:
            raise CommandError(
                f"{unknown} rows open with no key. Keep every key in NOTE_KEYS: find the key that "
                "sealed them, add it at the end, and run this again."
            )
        self.stdout.write(
            "Nothing needs an older key: take all but the first out of NOTE_KEYS."
            if keys > 1
            else "Everything stored is sealed under the only key of NOTE_KEYS."
        )
