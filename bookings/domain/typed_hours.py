"""Hours as people type them: "9-12, 14:00 – 18". The one reader for every text that holds hours."""

import re
import unicodedata
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from bookings.domain.hours import DAY_MINUTES, faults_of_week

Opening = tuple[int, int]
"""Opens and closes, minutes of the day."""

_CLOCK = r"(\d{1,2})(?:[:.h]([0-5]\d)|h)?"
_WINDOW = rf"{_CLOCK}\s*-\s*{_CLOCK}"
_ONE_CLOCK = re.compile(_CLOCK, re.ASCII)
_ONE_WINDOW = re.compile(_WINDOW, re.ASCII)
_WINDOWS = re.compile(rf"{_WINDOW}(?:\s+{_WINDOW})*", re.ASCII)
_BETWEEN = re.compile(r"[,;&\n，；、]|\band\b", re.IGNORECASE)
_UNTIL = re.compile(r"\b(?:to|until)\b")
_MINUS = "\N{MINUS SIGN}"
_LONGEST_SHOWN = 30


@dataclass(frozen=True, slots=True)
class TypedHours:
    """One line: the windows that could be read, and a sentence for each part that could not."""

    windows: tuple[Opening, ...]
    faults: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TypedWeek:
    """Seven lines, Monday first: windows of (weekday, opens, closes), and the faults by weekday."""

    windows: tuple[tuple[int, int, int], ...]
    faults: dict[int, tuple[str, ...]]


def read_clock(text: str) -> int | None:
    """Minutes of the day (0-1440) of "9", "9:30" or "09.30"; None where it is no time of day."""
    found = _ONE_CLOCK.fullmatch(_plain(text).strip())
    return _minute(found[1], found[2]) if found else None


def read_hours(text: str) -> TypedHours:
    """The windows of one line.

    Between two times any dash is read, and between two windows any usual separator.
    """
    windows: list[Opening] = []
    faults: list[str] = []
    for typed in filter(None, (part.strip() for part in _BETWEEN.split(text))):
        plain = _plain(typed)
        if not _WINDOWS.fullmatch(plain):
            faults.append(
                f"“{typed[:_LONGEST_SHOWN]}” cannot be read: "
                "write it like 9-12 or 15:30-20:30, on the 24-hour clock."
            )
            continue
        for found in _ONE_WINDOW.finditer(plain):
            opens, closes = _minute(found[1], found[2]), _minute(found[3], found[4])
            if opens is None or closes is None:
                faults.append(f"“{found[0]}”: choose times from 00:00 to 24:00.")
            else:
                windows.append((opens, closes))
    return TypedHours(tuple(windows), tuple(faults))


def read_week(lines: Sequence[str]) -> TypedWeek:
    """A whole week, with everything that keeps it from being published, each at its day."""
    windows: list[tuple[int, int, int]] = []
    faults: dict[int, list[str]] = defaultdict(list)
    for weekday, line in enumerate(lines):
        read = read_hours(line)
        windows += [(weekday, opens, closes) for opens, closes in read.windows]
        if read.faults:
            faults[weekday] += read.faults
    for fault in faults_of_week(windows):
        faults[windows[fault.position][0]].append(fault.sentence)
    return TypedWeek(tuple(windows), {day: tuple(said) for day, said in faults.items()})


def say_hours(windows: Iterable[Opening]) -> str:
    """The reverse: "15:30-20:30, 21:00-22:00"."""
    return ", ".join(f"{o // 60:02}:{o % 60:02}-{c // 60:02}:{c % 60:02}" for o, c in windows)


def _minute(hour: str, minute: str | None) -> int | None:
    of_day = int(hour) * 60 + int(minute or 0)
    return of_day if of_day <= DAY_MINUTES else None


def _plain(text: str) -> str:
    """Wide signs made usual, every dash a hyphen, "to" and "until" as well, in lower case."""
    whole = unicodedata.normalize("NFKC", text).lower()
    dashed = "".join(
        "-" if sign == _MINUS or unicodedata.category(sign) == "Pd" else sign for sign in whole
    )
    return _UNTIL.sub("-", dashed)
