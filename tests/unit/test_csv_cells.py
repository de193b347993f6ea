"""Cells of a CSV file: what a spreadsheet would run is only text."""

import csv
import io

import pytest

from bookings.domain.csv_cells import FORMULAS, cell, row


@pytest.mark.parametrize("first", FORMULAS)
def test_a_name_that_begins_like_a_formula_does_not_run(first: str) -> None:
    """Source: OWASP, "CSV Injection", a published guide, from memory.

    Source: OWASP ASVS 5.0.0, V1.2.10.
    """
    assert cell(f"{first}1+2") == f"'{first}1+2"


@pytest.mark.parametrize("before", [" ", "\n", "  \n", "\u00a0", "\ufeff", "\u3000"])
def test_blanks_before_a_formula_do_not_hide_it(before: str) -> None:
    """A reader that trims a cell would still run what is left."""
    assert cell(f"{before}=1+2") == f"'{before}=1+2"


@pytest.mark.parametrize("text", ["", " ", "Posy Amberfield", "2027-03-01", "a = b", "Zoë-Ann"])
def test_other_text_stays_as_it_is(text: str) -> None:
    """A sign inside a text runs nothing."""
    assert cell(text) == text


def test_a_number_below_zero_stays_a_number_and_the_same_text_does_not() -> None:
    """A statement counts minutes below zero; a person typed the text."""
    assert row([-45, "-45", "Lark"]) == ["-45", "'-45", "Lark"]


def test_a_made_safe_cell_is_read_back_whole() -> None:
    """Quotes, commas and new lines are the csv module's own care."""
    text = "=cmd|\"a,b\"\n'x'"
    file = io.StringIO()
    csv.writer(file).writerow(row([text]))
    assert next(csv.reader(io.StringIO(file.getvalue(), newline=""))) == [f"'{text}"]
