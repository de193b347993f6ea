"""Under which key of NOTE_KEYS each stored text is sealed."""

from collections import Counter
from dataclasses import dataclass, field

from cryptography.exceptions import InvalidTag

from accounts.sealed import open_with_key
from accounts.sealed_columns import SealedColumn, sealed_columns

AT_ONCE = 500


@dataclass(slots=True)
class Sealed:
    """The texts of one column: how many by the place of their key, and the ids that none opens.

    Place 0 is the newest key.
    """

    column: SealedColumn
    by_key: Counter[int] = field(default_factory=Counter)
    unknown: list[object] = field(default_factory=list)


def sealed_by_key() -> list[Sealed]:
    """Every sealed column, read in chunks without a lock."""
    found = []
    for column in sealed_columns():
        sealed = Sealed(column)
        for row in column.rows().iterator(chunk_size=AT_ONCE):
            for text, bound_to in column.texts(row).values():
                try:
                    sealed.by_key[open_with_key(text, bound_to)[1]] += 1
                except InvalidTag:
                    sealed.unknown.append(row.pk)
        found.append(sealed)
    return found
