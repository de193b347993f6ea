"""The content lines of a foreign calendar (RFC 5545 section 3.1), read strictly and without their
text.

Busy time needs when and whether, never what. So names, places, people, descriptions and alarms are
dropped line by line before any other code sees the file, and a UID becomes a number. Each kept
value is checked against its grammar here, so that the expanding library gets nothing else.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from bookings.calendars.content_grammar import (
    AS_WRITTEN,
    GRAMMAR,
    INSIDE,
    ONCE,
    check_days,
    too_much,
    unreadable,
)

_NAME = re.compile(r"[A-Za-z0-9-]{1,60}", re.ASCII)
_PARAMETER = re.compile(
    r";([A-Za-z0-9-]{1,60})="
    r'((?:"[^"\x00-\x08\x0a-\x1f]*"|[^";:,\x00-\x08\x0a-\x1f]*)(?:,(?:"[^"]*"|[^";:,]*))*)',
    re.ASCII,
)
MOST_COMPONENTS = 10_000
MOST_DEPTH = 8


@dataclass(slots=True)
class Line:
    """One property: parameter names in capitals, and the value after its grammar was checked."""

    name: str
    parameters: dict[str, str]
    value: str


@dataclass(slots=True)
class Component:
    """One kept component, with its kept lines and components."""

    name: str
    lines: list[Line] = field(default_factory=list)
    inner: list["Component"] = field(default_factory=list)

    def all(self, name: str) -> list[Line]:
        """The lines of that property."""
        return [line for line in self.lines if line.name == name]

    def one(self, name: str) -> Line | None:
        """The line of a property that may stand once, or None."""
        return next((line for line in self.lines if line.name == name), None)

    def text(self) -> Iterator[str]:
        """Its content lines, without folding."""
        yield f"BEGIN:{self.name}"
        for line in self.lines:
            yield (
                line.name
                + "".join(f';{name}="{value}"' for name, value in line.parameters.items())
                + f":{line.value}"
            )
        for component in self.inner:
            yield from component.text()
        yield f"END:{self.name}"


def read(data: bytes) -> tuple[list[Component], list[str]]:
    """The calendars of a file, reduced to what busy time needs, and a phrase for each kind of fault
    forgiven.

    Refused: "calendar-unreadable", "calendar-too-much".
    """
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise unreadable("it is not text in UTF-8.") from None
    if "\x00" in text:
        raise unreadable("it holds bytes that no text has.")
    lines = re.sub(r"\n[ \t]", "", text.replace("\r\n", "\n").replace("\r", "\n")).split("\n")
    reader = _Reader()
    reader.read(line for line in lines if line and not line.isspace())
    if not reader.calendars:
        raise unreadable("it holds no BEGIN:VCALENDAR.")
    return reader.calendars, list(dict.fromkeys(reader.notes))


class _Reader:
    """Nests content lines in components, and skips the components that are not kept."""

    def __init__(self) -> None:
        self.calendars: list[Component] = []
        self.notes: list[str] = []
        self._open_names: list[str] = []
        self._kept: list[Component] = []
        """The open components that are kept; all lie outside the skipped ones."""
        self._count = 0

    def read(self, lines: Iterable[str]) -> None:
        """Reads all lines of a file. Refused as in `read`."""
        for line in lines:
            start = line[:6].upper()
            if start == "BEGIN:":
                self._begin(line[6:].strip().upper())
            elif self.calendars and not self._open_names:
                self.notes.append("lines after its end")
            elif start[:4] == "END:":
                self._end(line[4:].strip().upper())
            elif not self._open_names:
                raise unreadable("it begins with something other than BEGIN:VCALENDAR.")
            elif not self._is_skipping():
                _add(self._kept[-1], line, self.notes)
        if self._open_names:
            raise unreadable("it stops in the middle.")

    def _is_skipping(self) -> bool:
        return len(self._kept) < len(self._open_names)

    def _begin(self, name: str) -> None:
        self._count += 1
        if self._count > MOST_COMPONENTS or len(self._open_names) >= MOST_DEPTH:
            raise too_much(
                f"it has more than {MOST_COMPONENTS} entries, or entries inside entries without "
                "end."
            )
        if not self._open_names and name != "VCALENDAR":
            raise unreadable("it begins with something other than BEGIN:VCALENDAR.")
        if self._open_names and name == "VCALENDAR":
            raise unreadable("one calendar begins inside another.")
        if name in GRAMMAR and not self._is_skipping():
            self._keep(Component(name))
        self._open_names.append(name)

    def _keep(self, component: Component) -> None:
        if not self._kept:
            self.calendars.append(component)
        elif INSIDE[component.name] != self._open_names[-1]:
            raise unreadable(f"a {component.name} stands where it may not.")
        else:
            self._kept[-1].inner.append(component)
        self._kept.append(component)

    def _end(self, name: str) -> None:
        if not self._open_names or self._open_names[-1] != name:
            raise unreadable("an END does not match its BEGIN.")
        if not self._is_skipping():
            _check_whole(self._kept.pop(), self.notes)
        self._open_names.pop()


def _add(component: Component, text: str, notes: list[str]) -> None:
    """Adds a content line to the component, if its property is kept."""
    found = _NAME.match(text)
    if found is None or text[found.end() : found.end() + 1] not in (":", ";"):
        raise unreadable("a line is neither a property nor the rest of the line before.")
    name = found[0].upper()
    if name not in GRAMMAR[component.name]:
        return
    line = _line(name, text[found.end() :])
    if name == "RRULE" and " " in line.value:
        notes.append("spaces in a rule of repetition")
        line.value = line.value.replace(" ", "")
    if name in ("RDATE", "EXDATE") and not line.value:
        notes.append(f"an empty {name}")
        return
    _check(line, component)
    component.lines.append(line)


def _line(name: str, rest: str) -> Line:
    """A line from its name and the parameters and value after it."""
    parameters: dict[str, str] = {}
    at = 0
    found = _PARAMETER.match(rest)
    while found is not None:
        parameters[found[1].upper()] = found[2].strip('"')
        at = found.end()
        found = _PARAMETER.match(rest, at)
    if rest[at : at + 1] != ":":
        raise unreadable(f"the parameters of a {name} are broken.")
    value = rest[at + 1 :].strip()
    return Line(name, parameters, value if name in AS_WRITTEN else value.upper())


def _check(line: Line, component: Component) -> None:
    """Refused("calendar-unreadable") for a value that breaks its grammar, or one too many."""
    if not GRAMMAR[component.name][line.name].fullmatch(line.value):
        raise unreadable(f"the value of a {line.name} is not one.")
    if line.name in ONCE and component.one(line.name):
        raise unreadable(f"an entry has more than one {line.name}.")
    if line.name not in AS_WRITTEN:
        check_days(line.value)


def _check_whole(component: Component, notes: list[str]) -> None:
    """Refused("calendar-unreadable") for a component without the properties it must have."""
    if not _is_whole(component):
        raise unreadable(f"a {component.name} lacks what it must have.")
    if component.name == "VTIMEZONE" and component.one("TZID") is None:
        notes.append("a time zone without a name")
    if component.one("DTEND") and component.one("DURATION"):
        raise unreadable("an entry has both a DTEND and a DURATION.")


def _is_whole(component: Component) -> bool:
    if component.name == "VEVENT":
        return component.one("DTSTART") is not None
    if component.name == "VTIMEZONE":
        return bool(component.inner)
    if component.name in ("STANDARD", "DAYLIGHT"):
        needed = ("DTSTART", "TZOFFSETFROM", "TZOFFSETTO")
        return all(component.one(name) for name in needed)
    return True
