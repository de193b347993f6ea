"""A file of people as a spreadsheet saves it (CSV, RFC 4180), read into rows of cells by heading.

Refused("invalid", field "file") says in a sentence why a file cannot be read at all.
"""

import csv
import io
import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from bookings.domain.errors import Refused

MOST_BYTES: Final = 2_000_000
MOST_ROWS: Final = 5_000
SEPARATORS: Final = (",", ";", "\t")
UTF_8, UTF_16, WINDOWS_1252 = "UTF-8", "UTF-16", "Windows-1252"
_AS_UTF_8 = "Save it from the spreadsheet as “CSV UTF-8”, then choose it again."


class Column(StrEnum):
    """The headings, in the order of the sample."""

    ROLE = "Role"
    NAME = "Name"
    EMAIL = "Email"
    LEVEL = "Level"
    UNIT = "Unit"
    AGE = "Adult or minor"
    COMES_OF_AGE = "18th birthday"
    TIME_ZONE = "Time zone"
    GUARDIAN = "Guardian"
    GUARDIAN_EMAIL = "Guardian email"
    SECOND_GUARDIAN = "Second guardian"
    SECOND_GUARDIAN_EMAIL = "Second guardian email"


NEEDED: Final = (Column.ROLE, Column.NAME, Column.EMAIL)
NEEDED_OF_STUDENTS: Final = (
    Column.LEVEL,
    Column.AGE,
    Column.COMES_OF_AGE,
    Column.TIME_ZONE,
    Column.GUARDIAN,
    Column.GUARDIAN_EMAIL,
)


@dataclass(frozen=True, slots=True)
class Row:
    """One row with its number in the spreadsheet, where the headings are row 1.

    `has_more` says that there are more cells than headings.
    """

    number: int
    cells: Mapping[Column, str]
    has_more: bool = False


@dataclass(frozen=True, slots=True)
class Sheet:
    """The rows that are not blank, and the columns of the file."""

    rows: Sequence[Row]
    columns: Sequence[Column]


def text_of(content: bytes) -> tuple[str, str]:
    """The text and its encoding: UTF-8, UTF-16 with its mark, or else Windows-1252.

    Refused for too many bytes, for NUL bytes and for what is no text.
    """
    if len(content) > MOST_BYTES:
        raise unreadable("The file is larger than 2 MB. Split it into smaller files.")
    if content.startswith(b"PK\x03\x04"):
        raise unreadable(f"This is a workbook and not a CSV file. {_AS_UTF_8}")
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return _decoded(content, "utf-16", UTF_16)
    try:
        return _decoded(content, "utf-8-sig", UTF_8)
    except UnicodeDecodeError:
        pass
    try:
        return _decoded(content, "cp1252", WINDOWS_1252)
    except UnicodeDecodeError:
        raise unreadable(f"The letters of this file cannot be read. {_AS_UTF_8}") from None


def read_sheet(text: str) -> Sheet:
    """The rows of the text, whichever of SEPARATORS stands between its cells."""
    separator = _separator(text)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    columns: list[Column | None] = []
    rows: list[Row] = []
    number = 0
    try:
        for number, cells in enumerate(reader, start=1):
            if number == 1:
                columns = _columns(cells)
            elif any(cell.strip() for cell in cells):
                if len(rows) == MOST_ROWS:
                    raise unreadable("The file has more than 5,000 people. Split it.")
                rows.append(_row(number, cells, columns))
    except csv.Error:
        raise unreadable(
            f"Row {number + 1} cannot be read. Check its quotation marks: one that is opened must "
            "be closed, and a quotation mark within a text is written twice."
        ) from None
    if not rows:
        raise unreadable("The file has no row below its headings.")
    return Sheet(rows, [column for column in columns if column is not None])


def unreadable(sentence: str) -> Refused:
    """The refusal of a whole file."""
    return Refused("invalid", sentence, field="file")


def _decoded(content: bytes, codec: str, name: str) -> tuple[str, str]:
    try:
        text = content.decode(codec)
    except UnicodeDecodeError:
        if codec == "utf-16":
            raise unreadable(f"The letters of this file cannot be read. {_AS_UTF_8}") from None
        raise
    if "\0" in text:
        raise unreadable(f"This file is not plain text. {_AS_UTF_8}")
    return unicodedata.normalize("NFC", text), name


def _separator(text: str) -> str:
    """The separator under which most headings are known."""

    def known(separator: str) -> int:
        try:
            first = next(csv.reader(io.StringIO(text, newline=""), delimiter=separator), [])
        except csv.Error:
            return 0
        return sum(_plain(cell) in _NAMES for cell in first)

    return max(SEPARATORS, key=known)


def _columns(cells: Sequence[str]) -> list[Column | None]:
    """The column of each heading; None for an empty one."""
    typed = [cell.strip() for cell in cells]
    unknown = [cell for cell in typed if cell and _plain(cell) not in _NAMES]
    found = [_NAMES.get(_plain(cell)) for cell in typed]
    named = [column for column in found if column is not None]
    missing = [column for column in NEEDED if column not in named]
    twice = sorted({column for column in named if named.count(column) > 1})
    if missing:
        raise unreadable(
            f"The first row needs the headings {_listed(Column)}. Missing: {_listed(missing)}."
        )
    if unknown:
        names = _listed([cell[:40] for cell in unknown[:5]])
        raise unreadable(f"Unknown heading: {names}. The headings are {_listed(Column)}.")
    if twice:
        raise unreadable(f"A heading stands twice: {_listed(twice)}. Leave one of them out.")
    return found


def _row(number: int, cells: Sequence[str], columns: Sequence[Column | None]) -> Row:
    named = {
        column: cell for column, cell in zip(columns, cells, strict=False) if column is not None
    }
    unnamed = [
        cell for place, cell in enumerate(cells) if place >= len(columns) or columns[place] is None
    ]
    return Row(number, named, any(cell.strip() for cell in unnamed))


def _plain(heading: str) -> str:
    return re.sub(r"[\W_]+", "", heading).casefold()


def _listed(names: Sequence[str] | type[Column]) -> str:
    return ", ".join(f"“{name}”" for name in names)


_NAMES = {_plain(column): column for column in Column} | {
    "emailaddress": Column.EMAIL,
    "guardianemailaddress": Column.GUARDIAN_EMAIL,
    "secondguardianemailaddress": Column.SECOND_GUARDIAN_EMAIL,
    "clock": Column.TIME_ZONE,
}
