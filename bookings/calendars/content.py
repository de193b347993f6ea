"""The content lines of a foreign calendar (RFC 5545 section 3.1), read strictly and with all its text left behind.

A busy time needs when and whether, never what: names, places, people, descriptions and alarms are dropped line by line
before anything else looks at the file, and a UID becomes a number. What is kept is held against its grammar here, so that the
library that expands it is never given anything else.
"""

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date

from bookings.domain.errors import Refused

_DATE = r"\d{8}"
_TIME = r"\d{8}T([01]\d|2[0-3])[0-5]\d([0-5]\d|60)Z?"
_DURATION = r"[+-]?P(\d{1,5}W|(\d{1,5}D)?(T(\d{1,6}H)?(\d{1,6}M)?(\d{1,8}S)?)?)(?<![PT])"
_PERIOD = rf"{_TIME}/({_TIME}|{_DURATION})"
_OFFSET = r"[+-](0\d|1\d|2[0-3])[0-5]\d([0-5]\d)?"


def _list_of(one: str) -> str:
    return rf"({one})(,({one}))*"


# What is kept of each component, with the grammar of each value. Anything else is read past.
_EVENT = {
    "DTSTART": rf"{_DATE}|{_TIME}",
    "DTEND": rf"{_DATE}|{_TIME}",
    "DURATION": _DURATION,
    "RECURRENCE-ID": rf"{_DATE}|{_TIME}",
    "RRULE": r"[A-Z0-9=;,+-]{1,500}",
    "RDATE": _list_of(rf"{_PERIOD}|{_DATE}|{_TIME}"),
    "EXDATE": _list_of(rf"{_DATE}|{_TIME}"),
    "SEQUENCE": r"\d{1,9}",
    "STATUS": r"[A-Z0-9-]{1,40}",
    "TRANSP": r"[A-Z0-9-]{1,40}",
    "UID": r"(?s).*",
}
_ONSETS = {
    "DTSTART": rf"{_DATE}|{_TIME}",
    "RRULE": _EVENT["RRULE"],
    "RDATE": _list_of(rf"{_DATE}|{_TIME}"),
    "TZOFFSETFROM": _OFFSET,
    "TZOFFSETTO": _OFFSET,
}
_GRAMMAR: Mapping[str, Mapping[str, re.Pattern[str]]] = {
    component: {name: re.compile(value, re.ASCII) for name, value in properties.items()}
    for component, properties in {
        "VCALENDAR": {},
        "VEVENT": _EVENT,
        "VFREEBUSY": {
            "FREEBUSY": _list_of(rf"{_TIME[:-1]}/({_TIME[:-1]}|{_DURATION})")
        },  # always in UTC: section 3.8.2.6
        "VTIMEZONE": {"TZID": r"[^\x00-\x1f]{1,200}"},
        "STANDARD": _ONSETS,
        "DAYLIGHT": _ONSETS,
    }.items()
}
_INSIDE = {
    "VEVENT": "VCALENDAR",
    "VFREEBUSY": "VCALENDAR",
    "VTIMEZONE": "VCALENDAR",
    "STANDARD": "VTIMEZONE",
    "DAYLIGHT": "VTIMEZONE",
}
_ONCE = {
    "DTSTART",
    "DTEND",
    "DURATION",
    "RECURRENCE-ID",
    "UID",
    "TZID",
    "TZOFFSETFROM",
    "TZOFFSETTO",
    "STATUS",
    "TRANSP",
    "SEQUENCE",
}
_AS_WRITTEN = {
    "UID",
    "TZID",
}  # every other value kept is read in capitals, as section 2 lets names and tokens be written in any case
_NAME = re.compile(r"[A-Za-z0-9-]{1,60}", re.ASCII)
_PARAMETER = re.compile(
    r';([A-Za-z0-9-]{1,60})=((?:"[^"\x00-\x08\x0a-\x1f]*"|[^";:,\x00-\x08\x0a-\x1f]*)(?:,(?:"[^"]*"|[^";:,]*))*)',
    re.ASCII,
)
_DAYS = re.compile(r"(?<!\d)(\d{4})(\d\d)(\d\d)(?!\d)", re.ASCII)
MOST_COMPONENTS = 10_000
MOST_DEPTH = 8


def unreadable(why: str) -> Refused:
    """The refusal of a file that is no iCalendar; `why` is a sentence of ours that quotes nothing of the file."""
    return Refused("calendar-unreadable", f"This is not a calendar that can be read: {why}")


def too_much(why: str) -> Refused:
    """The refusal of a calendar that would take too long to work out."""
    return Refused("calendar-too-much", f"This calendar is more than can be worked out: {why}")


@dataclass(slots=True)
class Line:
    """One property: parameters in capitals, the value as its grammar has it."""

    name: str
    parameters: dict[str, str]
    value: str


@dataclass(slots=True)
class Component:
    """One component that matters, with the lines and components of it that matter."""

    name: str
    lines: list[Line] = field(default_factory=list)
    inner: list["Component"] = field(default_factory=list)

    def all(self, name: str) -> list[Line]:
        """The lines of that property."""
        return [line for line in self.lines if line.name == name]

    def one(self, name: str) -> Line | None:
        """The line of a property that stands once, or None."""
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
    """The calendars of a file, reduced to what busy time needs, and a phrase for each kind of fault forgiven.

    Refused: "calendar-unreadable", "calendar-too-much".
    """
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise unreadable("it is not text in UTF-8.") from None
    if "\x00" in text:
        raise unreadable("it holds bytes that no text has.")
    lines = re.sub(r"\n[ \t]", "", text.replace("\r\n", "\n").replace("\r", "\n")).split("\n")
    notes: list[str] = []
    calendars = _nested((line for line in lines if line and not line.isspace()), notes)
    if not calendars:
        raise unreadable("it holds no BEGIN:VCALENDAR.")
    return calendars, list(dict.fromkeys(notes))


def _nested(lines: Iterator[str], notes: list[str]) -> list[Component]:
    calendars: list[Component] = []
    open_names: list[str] = []
    kept: list[Component] = []  # the open components that matter; what does not is only counted
    count = 0
    for line in lines:
        start = line[:6].upper()
        if start == "BEGIN:":
            name = line[6:].strip().upper()
            count += 1
            if count > MOST_COMPONENTS or len(open_names) >= MOST_DEPTH:
                raise too_much(
                    f"it has more than {MOST_COMPONENTS} entries, or entries inside entries without end."
                )
            if not open_names and name != "VCALENDAR":
                raise unreadable("it begins with something other than BEGIN:VCALENDAR.")
            if name == "VCALENDAR" and open_names:
                raise unreadable("one calendar begins inside another.")
            if name in _GRAMMAR and len(kept) == len(open_names):
                if open_names and _INSIDE[name] != open_names[-1]:
                    raise unreadable(f"a {name} stands where it may not.")
                component = Component(name)
                (kept[-1].inner if kept else calendars).append(component)
                kept.append(component)
            open_names.append(name)
        elif calendars and not open_names:
            notes.append("lines after its end")
        elif start[:4] == "END:":
            name = line[4:].strip().upper()
            if not open_names or open_names[-1] != name:
                raise unreadable("an END does not match its BEGIN.")
            if len(kept) == len(open_names):
                _check_whole(kept.pop(), notes)
            open_names.pop()
        elif not open_names:
            raise unreadable("it begins with something other than BEGIN:VCALENDAR.")
        elif len(kept) == len(open_names):
            _add(kept[-1], line, notes)
    if open_names:
        raise unreadable("it stops in the middle.")
    return calendars


def _add(component: Component, text: str, notes: list[str]) -> None:
    name = _NAME.match(text)
    if name is None or text[name.end() : name.end() + 1] not in (":", ";"):
        raise unreadable("a line is neither a property nor the rest of the line before.")
    grammar = _GRAMMAR[component.name].get(name[0].upper())
    if grammar is None:
        return
    parameters, at = {}, name.end()
    while found := _PARAMETER.match(text, at):
        parameters[found[1].upper()] = found[2].strip('"')
        at = found.end()
    if text[at : at + 1] != ":":
        raise unreadable(f"the parameters of a {name[0].upper()} are broken.")
    line = Line(name[0].upper(), parameters, text[at + 1 :].strip())
    if line.name not in _AS_WRITTEN:
        line.value = line.value.upper()
    if line.name == "RRULE" and " " in line.value:
        notes.append("spaces in a rule of repetition")
        line.value = line.value.replace(" ", "")
    if line.name in ("RDATE", "EXDATE") and not line.value:
        notes.append(f"an empty {line.name}")
        return
    if not grammar.fullmatch(line.value):
        raise unreadable(f"the value of a {line.name} is not one.")
    if line.name in _ONCE and component.one(line.name):
        raise unreadable(f"an entry has more than one {line.name}.")
    if line.name not in _AS_WRITTEN:
        check_days(line.value)
    component.lines.append(line)


def check_days(value: str) -> None:
    """Refused("calendar-unreadable") where a value names a date that no calendar has."""
    for year, month, day in _DAYS.findall(value.replace("T", " T")):
        try:
            date(int(year), int(month), int(day))
        except ValueError:
            raise unreadable("it names a date that does not exist.") from None


def _check_whole(component: Component, notes: list[str]) -> None:
    missing: Mapping[str, Callable[[], bool]] = {
        "VEVENT": lambda: component.one("DTSTART") is None,
        "VTIMEZONE": lambda: not component.inner,
        "STANDARD": lambda: (
            not all(component.one(name) for name in ("DTSTART", "TZOFFSETFROM", "TZOFFSETTO"))
        ),
    }
    if missing.get("STANDARD" if component.name == "DAYLIGHT" else component.name, lambda: False)():
        raise unreadable(f"a {component.name} lacks what it must have.")
    if component.name == "VTIMEZONE" and component.one("TZID") is None:
        notes.append("a time zone without a name")
    if component.one("DTEND") and component.one("DURATION"):
        raise unreadable("an entry has both a DTEND and a DURATION.")
