"""What holds of every calendar file that is written here, whoever reads it, and what icalendar
finds in one.
"""

from datetime import UTC
from typing import Any
from urllib.parse import unquote

from icalendar import Calendar


def lines_of(written: bytes) -> list[str]:
    """The unfolded content lines.

    RFC 5545 section 3.1 holds of them: CRLF ends each line, none is over 75 octets, no UTF-8
    sequence is cut by a fold, and no control character is left; nor anything else at which some
    reader ends a line.
    """
    assert written.endswith(b"\r\n")
    for octets in written.removesuffix(b"\r\n").split(b"\r\n"):
        assert len(octets) <= 75
        assert not any(
            character < " " or "\x7f" <= character <= "\x9f" for character in octets.decode()
        )
    text = written.decode()
    assert len(text.splitlines()) == text.count("\r\n")
    return text.replace("\r\n ", "").removesuffix("\r\n").split("\r\n")


def names_of(written: bytes) -> list[str]:
    """The name of each content line, in order; of BEGIN and END the whole line."""
    names = []
    for line in lines_of(written):
        name, _, _ = line.partition(":")
        names.append(line if name in ("BEGIN", "END") else name.partition(";")[0])
    return names


def read_by_icalendar(written: bytes) -> list[dict[str, Any]]:
    """The meetings that icalendar finds, in the shape of `expected`."""
    calendar = Calendar.from_ical(written)
    return [_meeting(calendar, vevent) for vevent in calendar.events]


def _meeting(calendar: Any, vevent: Any) -> dict[str, Any]:
    attendees = vevent.get("ATTENDEE", [])
    if not isinstance(attendees, list):
        attendees = [attendees]
    return {
        "uid": vevent["UID"],
        "sequence": vevent["SEQUENCE"],
        "stamp": vevent["DTSTAMP"].dt,
        "starts_at": vevent["DTSTART"].dt.astimezone(UTC),
        "ends_at": vevent["DTEND"].dt.astimezone(UTC),
        "summary": vevent["SUMMARY"],
        "description": vevent.get("DESCRIPTION", ""),
        "location": vevent.get("LOCATION", ""),
        "conference": vevent.get("CONFERENCE", ""),
        "status": vevent.get("STATUS"),
        "method": calendar.get("METHOD"),
        "attendees": [(unquote(one), one.params.get("CN", "")) for one in attendees],
    }
