"""Files of VAVAILABILITY and their parts."""

from datetime import UTC, datetime

STAMP = datetime(2026, 11, 2, 9, 0, tzinfo=UTC)


def file(*lines):
    return "\r\n".join(
        ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Test//Test//EN", *lines, "END:VCALENDAR", ""]
    )
