"""Which zone a TZID of a foreign calendar means (RFC 5545 section 3.2.19)."""

from datetime import UTC, tzinfo
from typing import Any

from icalendar import Timezone
from icalendar.timezone.windows_to_olson import WINDOWS_TO_OLSON

from bookings.calendars.content import Component, Line
from bookings.calendars.content_grammar import unreadable
from bookings.calendars.repetition import check_zone
from bookings.domain.zones import is_known, zone

_OWN = "X-ZONE-"
"""Names for zones that the file defines, so that no library mistakes one for a known zone."""


def known_zone(tzid: str) -> str | None:
    """The IANA zone that a TZID means, or None.

    The name itself, the end of a globally unique TZID, or CLDR's table gives it. A globally unique
    TZID begins with a slash and mostly ends in the IANA name, such as
    "/rowanmere.example/20260101/Europe/Dublin".
    """
    parts = tzid.strip("/").split("/")
    unique = ["/".join(parts[start:]) for start in range(len(parts))] if tzid[:1] == "/" else [tzid]
    return next(
        (name for name in (*unique, WINDOWS_TO_OLSON.get(tzid, "")) if is_known(name)), None
    )


class Zones:
    """Settles the zones of a file's lines.

    `used` are the file's own zones that lines needed; `unknown` are names that nobody knows.
    """

    def __init__(self, own: list[Component], owners: str) -> None:
        self._own = {line.value: part for part in own for line in part.all("TZID")}
        self._owners = owners
        self._meant: dict[str, str] = {}
        self.used: list[Component] = []
        self.unknown: set[str] = set()

    def settle(self, line: Line) -> None:
        """Sets the parameters that fit the line's value: a wall time gets the zone it is read in,
        others get none.
        """
        tzid = line.parameters.get("TZID")
        first = line.value.split(",")[0]
        kept = {name: text for name, text in line.parameters.items() if name == "RANGE"}
        if len(first) == 8:
            kept["VALUE"] = "DATE"
        elif "/" in first:
            kept["VALUE"] = "PERIOD"
        if len(first) != 8 and not first.endswith("Z"):
            kept["TZID"] = self._owners if tzid is None else self._zone(tzid)
        line.parameters = kept

    def is_own(self, event: Component) -> bool:
        """Whether a time of the event is in a zone that only the file defines."""
        return any(line.parameters.get("TZID", "").startswith(_OWN) for line in event.lines)

    def clock(self, line: Line) -> tzinfo:
        """The clock of a settled line whose value is a time."""
        tzid = line.parameters.get("TZID")
        if tzid is None:
            return UTC
        if not tzid.startswith(_OWN):
            return zone(tzid)
        part = self.used[int(tzid.removeprefix(_OWN))]
        try:
            text = "\r\n".join([*part.text(), ""])
            defined: Any = Timezone.from_ical(text)
            found: tzinfo = defined.to_tz(lookup_tzid=False)
        except (
            ValueError,
            TypeError,
            KeyError,
            AttributeError,
            IndexError,
            OverflowError,
        ) as error:
            raise unreadable("a time zone does not fit together.") from error
        return found

    def _zone(self, tzid: str) -> str:
        if tzid not in self._meant:
            self._meant[tzid] = self._found(tzid)
        return self._meant[tzid]

    def _found(self, tzid: str) -> str:
        known = known_zone(tzid)
        if known is not None:
            return known
        if tzid not in self._own:
            self.unknown.add(tzid)
            return self._owners
        part = self._own[tzid]
        check_zone(part)
        name = f"{_OWN}{len(self.used)}"
        part.lines = [Line("TZID", {}, name)]
        self.used.append(part)
        return name
