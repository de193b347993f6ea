"""Files of people read as bytes: encodings, separators, headings, quotes. Source: RFC 4180;
Unicode's byte order marks; the rest is common practice.
"""

import pytest

from bookings.domain.errors import Refused
from bookings.domain.people_files import MOST_BYTES, MOST_ROWS, Column, read_sheet, text_of
from tests.school.people_files import ADULT, FAMILY, MINOR
from tests.school.people_files import text_of as csv_of

ZOE = {**ADULT, "Name": "Zoë Marsh"}


def names(content: bytes) -> list[str]:
    text, _ = text_of(content)
    return [row.cells[Column.NAME] for row in read_sheet(text).rows]


def sentence(content: bytes) -> str:
    """Why this file is refused, in one sentence or two beside its field."""
    with pytest.raises(Refused) as caught:
        names(content)
    assert caught.value.code == "invalid"
    assert caught.value.data["field"] == "file"
    return str(caught.value.detail)


@pytest.mark.parametrize("codec", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_encodings_and_separators_give_the_same_people(codec: str, separator: str) -> None:
    """A spreadsheet saves what its country is used to."""
    assert names(csv_of(ZOE, separator=separator).encode(codec)) == ["Zoë Marsh"]


@pytest.mark.parametrize("mark", ["utf-16-le", "utf-16-be"])
def test_utf_16_needs_its_mark(mark: str) -> None:
    """Without it every second byte is NUL, which no text has."""
    assert "not plain text" in sentence(csv_of(ZOE).encode(mark))
    assert names(("\ufeff" + csv_of(ZOE)).encode(mark)) == ["Zoë Marsh"]


def test_the_encoding_is_told() -> None:
    """The page asks to check the names of a file whose encoding is a guess."""
    assert [text_of(csv_of(ZOE).encode(codec))[1] for codec in ("utf-8", "utf-16", "cp1252")] == [
        "UTF-8",
        "UTF-16",
        "Windows-1252",
    ]


def test_letters_typed_in_two_parts_are_one_name() -> None:
    """e and a diaeresis, as some systems store it, is the same ë (Unicode, form C)."""
    assert names(csv_of({**ADULT, "Name": "Zoe\u0308 Marsh"}).encode()) == ["Zoë Marsh"]


BAD = {
    "a workbook": (b"PK\x03\x04rest", "workbook"),
    "NUL bytes": (csv_of(ADULT).encode().replace(b"Robin", b"Ro\0in"), "not plain text"),
    "half a letter of UTF-16": (b"\xff\xfeR\x00o", "cannot be read"),
    "bytes that are no letters": (csv_of(ZOE).encode("utf-8") + b"\x81\x8d\xff", "cannot be read"),
    "too large": (b"a" * (MOST_BYTES + 1), "larger than 2 MB"),
    "nothing": (b"", "headings"),
    "blank lines": (b"\n\n\n", "headings"),
    "headings alone": (csv_of().encode(), "no row"),
    "no headings": (b"student,Robin Marsh,robin@marsh.example\n", "Missing"),
    "an unknown heading": (
        csv_of({**ADULT, "Shoe size": "4"}, columns=[*Column, "Shoe size"]).encode(),
        "Unknown heading: “Shoe size”",
    ),
    "a heading twice": (b"Role,Name,Email,name\nstudent,R,,R\n", "twice: “Name”"),
    "a missing heading": (b"Role,Name\nstudent,R\n", "Missing: “Email”"),
    "an open quotation mark": (b'Role,Name,Email\nstudent,"Robin,r@x.example\n', "Row 2"),
    "text after a quotation": (b'Role,Name,Email\nstudent,"R" M,r@x.example\n', "Row 2"),
    "a giant cell": (b"Role,Name,Email\nstudent," + b"x" * 140_000 + b",\n", "Row 2"),
    "too many people": (
        b"Role,Name,Email\n" + b"student,R,\n" * (MOST_ROWS + 1),
        "more than 5,000",
    ),
}


@pytest.mark.parametrize("case", BAD)
def test_a_file_that_cannot_be_read_says_why(case: str) -> None:
    """In a sentence that says what to do next."""
    content, told = BAD[case]
    assert told in sentence(content)


def test_rows_have_the_numbers_of_the_spreadsheet() -> None:
    """Blank rows count, and a line break in quotes begins no row."""
    text = csv_of({**ADULT, "Name": "Robin\nMarsh"}, {}, MINOR).replace("\r\n", "\n")
    assert [row.number for row in read_sheet(text).rows] == [2, 4]


@pytest.mark.parametrize("line_end", ["\r\n", "\n", "\r"])
def test_any_line_end_will_do(line_end: str) -> None:
    """Windows, Unix, and older machines."""
    assert len(read_sheet(csv_of(*FAMILY).replace("\r\n", line_end)).rows) == len(FAMILY)


def test_headings_are_known_in_any_capitals_order_and_signs() -> None:
    """And cells under an empty heading are too many only where they hold something."""
    text = "EMAIL;role;guardian_email;Name;;\nr@x.example;student;;Robin;;\n;student;;Kit;;more\n"
    rows = read_sheet(text).rows
    assert [row.cells[Column.NAME] for row in rows] == ["Robin", "Kit"]
    assert [row.has_more for row in rows] == [False, True]
