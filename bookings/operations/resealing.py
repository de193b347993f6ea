"""Sealing stored texts again under the newest key of NOTE_KEYS."""

from dataclasses import dataclass
from typing import Any

from cryptography.exceptions import InvalidTag

from accounts.sealed import open_with_key, seal
from accounts.sealed_columns import SealedColumn


@dataclass(frozen=True, slots=True)
class Batch:
    """The id of the last row of a batch, and how many rows were sealed again.

    `last` is None where no row was left.
    """

    last: object | None
    resealed: int


def reseal_batch(*, column: SealedColumn, after: object | None, size: int) -> Batch:
    """Seals the next `size` rows of a column anew, those that an older key sealed.

    The rows are locked and then read, so an edit at the same time is kept: it comes before or
    after. A row under the newest key is not written, nor one that no key opens.
    """
    rows = column.rows()
    if after is not None:
        rows = rows.filter(pk__gt=after)
    last, resealed = None, 0
    for row in rows.select_for_update(no_key=True)[:size]:
        last = row.pk
        try:
            resealed += _resealed(column, row)
        except InvalidTag:
            continue
    return Batch(last, resealed)


def _resealed(column: SealedColumn, row: Any) -> bool:
    is_changed = False
    for name, (sealed, bound_to) in column.texts(row).items():
        text, place = open_with_key(sealed, bound_to)
        if place > 0:
            column.set(row, name, seal(text, bound_to))
            is_changed = True
    if is_changed:
        row.save(update_fields=[column.name])
    return is_changed
