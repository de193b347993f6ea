"""How a statement is brought up to date: a line is taken back, and the right one follows it."""

import hashlib
from collections.abc import Collection, Iterable
from datetime import datetime

from bookings.domain.statements import Line


def standing_lines(written: Iterable[Line]) -> dict[int, Line]:
    """The line of each meeting that no counter-line has taken back, in the order of writing."""
    standing: dict[int, Line] = {}
    for line in written:
        if line.is_counter:
            del standing[line.meeting_id]
        else:
            standing[line.meeting_id] = line
    return standing


def counter_lines(written: Iterable[Line], reckoned: Iterable[Line]) -> list[Line]:
    """What has to be written so that the statement says what is reckoned; empty where it does.

    For each meeting, by start: the written line negated, then the new line.
    """
    old = standing_lines(written)
    new = {line.meeting_id: line for line in reckoned}
    either: Collection[Line] = {**old, **new}.values()
    found = []
    for pk in [line.meeting_id for line in sorted(either, key=_by_start)]:
        if old.get(pk) == new.get(pk):
            continue
        if pk in old:
            found.append(old[pk].countered())
        if pk in new:
            found.append(new[pk])
    return found


def version_of(written: Iterable[Line], reckoned: Iterable[Line]) -> int:
    """A number for what is written and what is reckoned: another one whenever a line differs."""
    said = repr([list(written), list(reckoned)]).encode()
    return int.from_bytes(hashlib.sha256(said).digest()[:6])


def _by_start(line: Line) -> tuple[datetime, int]:
    return line.starts_at, line.meeting_id
