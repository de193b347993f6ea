"""Which zone a foreign calendar means by a TZID (RFC 5545 section 3.2.19)."""

from icalendar.timezone.windows_to_olson import WINDOWS_TO_OLSON

from bookings.calendars.content import Component, Line
from bookings.calendars.repetition import check_zone
from bookings.domain.zones import is_known

_OWN = "X-ZONE-"
"""Zones that the file defines go by names of ours, so that no library takes one for another."""


class Zones:
    """Settles the zone of one line after the other; `used` are the file's own zones that were needed, `unknown` the names nobody knows."""

    def __init__(self, own: list[Component], owners: str) -> None:
        self._own = {line.value: part for part in own for line in part.all("TZID")}
        self._owners = owners
        self._meant: dict[str, str] = {}
        self.used: list[Component] = []
        self.unknown: set[str] = set()

    def settle(self, line: Line) -> None:
        """Leaves the line with the parameters that fit its value: a wall time with the zone it is read in, and nothing else with one."""
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
        """Whether a time of it is in a zone that only the file knows."""
        return any(line.parameters.get("TZID", "").startswith(_OWN) for line in event.lines)

    def _zone(self, tzid: str) -> str:
        if tzid not in self._meant:
            self._meant[tzid] = self._found(tzid)
        return self._meant[tzid]

    def _found(self, tzid: str) -> str:
        # A globally unique TZID begins with a slash and mostly ends in the IANA name: "/rowanmere.example/20260101/Europe/Dublin".
        parts = tzid.strip("/").split("/")
        guesses = (
            ["/".join(parts[start:]) for start in range(len(parts))]
            if tzid.startswith("/")
            else [tzid]
        )
        known = next(
            (name for name in (*guesses, WINDOWS_TO_OLSON.get(tzid, "")) if is_known(name)), None
        )
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
