"""Cells of a CSV file that people open in a spreadsheet.

A spreadsheet runs a cell that begins like a formula. A name that somebody typed must never run.
"""

import re
from collections.abc import Iterable
from typing import Final

FORMULAS: Final = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""What makes a spreadsheet run a cell; the last four are the same signs as wide as a CJK letter.

Source: OWASP, "CSV Injection", a published guide, from memory.
"""
_RUNS = re.compile(rf"[{re.escape(''.join(FORMULAS))}]|[\s\ufeff]+[=+@\uff1d\uff0b\uff0d\uff20-]")

QUOTE: Final = "'"
"""What stands before such a cell. A spreadsheet shows it as text."""


def cell(text: str) -> str:
    """The text as a cell that no spreadsheet runs, with `QUOTE` before what would run.

    Blanks before a formula count as nothing, because readers trim them. A number below zero is not
    for this function: write it as a number.
    """
    return f"{QUOTE}{text}" if runs(text) else text


def runs(text: str) -> bool:
    """Whether a spreadsheet would run this cell."""
    return _RUNS.match(text) is not None


def row(values: Iterable[str | int]) -> list[str]:
    """A row of cells: texts are made safe, numbers stay numbers, below zero as well."""
    return [str(value) if isinstance(value, int) else cell(value) for value in values]
