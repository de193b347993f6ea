"""Tables as CSV files that people open in a spreadsheet (RFC 4180)."""

import csv
import io
from collections.abc import Iterable, Sequence
from typing import Final

from django.http import HttpResponse

from bookings.domain.csv_cells import row
from bookings.pages.downloads import CSV, as_file

BOM: Final = "\ufeff"
"""Tells a spreadsheet that a file is UTF-8. Without it many misread a name like Zoë.

Programs that read the school's data use the API.
"""


def csv_file(name: str, head: Sequence[str], rows: Iterable[Sequence[str | int]]) -> HttpResponse:
    """A CSV file to keep under `name`, which names no person, with a row of headings.

    Every cell goes through `domain.csv_cells`.
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(row(head))
    writer.writerows(map(row, rows))
    return as_file(name, BOM + text.getvalue(), CSV)
