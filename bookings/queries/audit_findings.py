"""What an audit of the tables finds."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Finding:
    """A row that breaks a rule: the rule, the kind and id of the row, and a sentence without names.

    `id` is None where the whole table or the database is concerned.
    """

    rule: str
    thing: str
    id: int | None
    sentence: str

    def line(self) -> str:
        """As one line of text."""
        row = self.thing if self.id is None else f"{self.thing} {self.id}"
        return f"{row}: {self.sentence}"
