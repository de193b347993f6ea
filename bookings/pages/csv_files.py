"""Tables as CSV files that people open in a spreadsheet (RFC 4180)."""

import csv
import io
from collections.abc import Iterable, Sequence
from typing import Final

from django.http import HttpResponse

from bookings.domain.csv_cells import row

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
    headers = {
        "Content-Disposition": f'attachment; filename="{name}"',
        "Cache-Control": "private, no-store",
    }
    content = (BOM + text.getvalue()).encode()
    return HttpResponse(content, content_type="text/csv; charset=utf-8", headers=headers)
