"""A statement of hours as a CSV file."""

import csv
import io
from collections.abc import Sequence

from bookings.domain.csv_cells import row
from bookings.domain.zones import zone
from bookings.models import StatementLine

COLUMNS = (
    "date",
    "start",
    "time_zone",
    "meeting",
    "kind",
    "booked_minutes",
    "outcome",
    "counts",
    "reason",
    "counted_minutes",
    "total_minutes",
    "correction",
    "takes_back",
)


def statement_csv(lines: Sequence[StatementLine]) -> str:
    """The lines in the order of writing, under a line of names (RFC 4180).

    `start` is on the clock of `time_zone`; `takes_back` is "yes" on a counter-line.
    """
    file = io.StringIO()
    writer = csv.writer(file)
    writer.writerow(COLUMNS)
    writer.writerows(row(_values(line)) for line in lines)
    return file.getvalue()


def _values(line: StatementLine) -> list[str | int]:
    said = line.as_line
    return [
        said.wall_on.isoformat(),
        f"{said.starts_at.astimezone(zone(said.time_zone)):%H:%M}",
        said.time_zone,
        said.meeting_id,
        said.kind.value,
        said.booked_minutes,
        said.said,
        _yes(said.counts),
        said.why,
        said.counted_minutes,
        line.total_minutes,
        line.correction,
        _yes(said.is_counter),
    ]


def _yes(is_so: bool) -> str:
    return "yes" if is_so else "no"
