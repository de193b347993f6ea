"""How one table stands in the data map."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum


class Erased(StrEnum):
    """What an erasure does with a person's rows of a table."""

    KEPT = "kept"
    """They stay: ids, times and numbers that accounts and statements need, and no words."""
    EMPTIED = "emptied"
    """They stay, and the columns of `goes`, `health`, `private` and `secret` are emptied."""
    DELETED = "deleted"
    BY_HAND = "by hand"
    """`operations.erasing` does it, because it takes more than emptying."""


def emptied(columns: Iterable[str]) -> dict[str, str | bytes]:
    """What these columns hold once they are emptied, by name."""
    return {name: b"" if name.startswith("sealed_") else "" for name in columns}


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table: every column of it stands in exactly one of the groups, by name.

    `student` and `account` lead from a row to the person whose it is, as Django's lookups; a table
    without either holds nothing that is one person's. `name` is that of its list in an export;
    empty where it is in none. `ordinary` filters the rows of an export that is no access export.
    `joined` adds what a reader of the export needs beside an id, by name and lookup.
    """

    model: str
    name: str = ""
    student: str = ""
    account: str = ""
    erased: Erased = Erased.KEPT
    told: Mapping[str, str] = field(default_factory=dict)
    """In every export; stays at an erasure that keeps the row."""
    goes: Mapping[str, str] = field(default_factory=dict)
    """In every export; goes at an erasure."""
    health: Mapping[str, str] = field(default_factory=dict)
    """In the family's own export and in an access export; goes at an erasure."""
    private: Mapping[str, str] = field(default_factory=dict)
    """Only in an access export; goes at an erasure."""
    secret: Mapping[str, str] = field(default_factory=dict)
    """In no export: secrets, digests, and the words of others; goes at an erasure."""
    others: Mapping[str, str] = field(default_factory=dict)
    """Whom else of the school the row names, by id: in no export, and stays."""
    plain: str = ""
    """Columns, apart by spaces, that say nothing of a person: keys, versions, settings."""
    joined: Mapping[str, str] = field(default_factory=dict)
    opened: Mapping[str, str] = field(default_factory=dict)
    """A sealed column, and the model's property that opens it."""
    ends: str = ""
    """The kinds of `queries.retention`, apart by spaces, that end its rows or empty columns."""
    stays: str = ""
    """Why rows of people are kept, where nothing ends them or a kind only empties columns."""
    until: str = ""
    """When rows of people go, where no kind ends them: what ends them besides an erasure."""
    sealed: str = ""
    """Columns, apart by spaces, that are sealed under NOTE_KEYS and sealed anew with the key."""
    ordinary: Mapping[str, object] = field(default_factory=dict)

    @property
    def columns(self) -> list[str]:
        """Every column that has an entry; twice where it has two."""
        groups = (self.told, self.goes, self.health, self.private, self.secret, self.others)
        return [*(name for group in groups for name in group), *self.plain.split()]

    @property
    def emptied(self) -> list[str]:
        """The columns that an erasure empties in a row that stays."""
        return [*self.goes, *self.health, *self.private, *self.secret]
