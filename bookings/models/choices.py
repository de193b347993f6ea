"""The stored values of the domain's enums, as fields and constraints take them."""

from enum import StrEnum


def choices_of(words: type[StrEnum]) -> list[tuple[str, str]]:
    """The choices of a field that holds one of these words."""
    return [(word.value, word.value) for word in words]


def values_of(words: type[StrEnum]) -> list[str]:
    """The values that a constraint allows."""
    return [word.value for word in words]
