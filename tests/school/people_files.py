"""Files of people, as a spreadsheet writes them."""

import csv
import io
from collections.abc import Iterable, Mapping

from bookings.domain.people_files import Column

ADULT = {
    "Role": "student",
    "Name": "Robin Marsh",
    "Email": "robin@marsh.example",
    "Level": "4",
    "Unit": "2",
    "Adult or minor": "adult",
    "Time zone": "Europe/Dublin",
}
MINOR = {
    "Role": "student",
    "Name": "Kit Fell",
    "Level": "2",
    "Adult or minor": "minor",
    "18th birthday": "2034-06-01",
    "Time zone": "Australia/Sydney",
    "Guardian": "Ines Fell",
    "Guardian email": "ines@fell.example",
}
SECOND = {"Second guardian": "Otto Fell", "Second guardian email": "otto@fell.example"}
SIBLING = {**MINOR, "Name": "Wren Fell", "18th birthday": "2036-09-14"}
TEACHER = {"Role": "instructor", "Name": "Tenzin Orlo", "Email": "tenzin@orlo.example"}
FAMILY = (ADULT, {**MINOR, **SECOND}, SIBLING, TEACHER)


def text_of(
    *rows: Mapping[str, str], separator: str = ",", columns: Iterable[str] = tuple(Column)
) -> str:
    """These rows under the headings."""
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, [*columns], delimiter=separator, extrasaction="raise")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()
