"""Repeating entries of a foreign calendar, simplified before a library expands them (RFC 5545
section 3.8.5).
"""

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, tzinfo
from itertools import count

from bookings.calendars.content import Component, Line
from bookings.calendars.spans import Length, date_or_instant, is_skipped

_UNTIL_A_DATE = re.compile(r"UNTIL=(\d{8})(?![T\d])", re.ASCII)
_UNTIL_LOCAL = re.compile(r"UNTIL=(\d{8}T\d{6})(?![Z\d])", re.ASCII)
_DAYS_A_STEP = {"DAILY": 1, "WEEKLY": 7}
_MARGIN = timedelta(days=3)


def settle_until(rule: Line, clock: tzinfo) -> None:
    """Writes UNTIL in UTC, as section 3.3.10 requires beside a start that is a time.

    A date includes that whole date. A time without Z is on the start's clock: calendars that omit
    the Z mean that.
    """

    def in_utc(found: re.Match[str]) -> str:
        at = datetime.fromisoformat(found[1]).replace(tzinfo=clock)
        return f"UNTIL={at.astimezone(UTC):%Y%m%dT%H%M%SZ}"

    rule.value = _UNTIL_LOCAL.sub(in_utc, _UNTIL_A_DATE.sub(r"UNTIL=\1T235959", rule.value))


def keep_overrides(events: list[Component]) -> None:
    """Takes an instance out of EXDATE if another entry with the same UID changes it.

    Some calendars write a moved instance both as removed and as moved; the library would leave it
    out.
    """
    changed = {
        (uid.value, _key(line, line.value))
        for event in events
        for uid in event.all("UID")
        for line in event.all("RECURRENCE-ID")
    }
    for event in events:
        for uid in event.all("UID"):
            for line in event.all("EXDATE"):
                dates = line.value.split(",")
                line.value = ",".join(
                    one for one in dates if (uid.value, _key(line, one)) not in changed
                )
            event.lines = [line for line in event.lines if line.name != "EXDATE" or line.value]


def _key(line: Line, value: str) -> object:
    """A key for one instance: its instant, or its text if only the file defines its zone."""
    tzid = line.parameters.get("TZID", "")
    if tzid.startswith("X-") or len(value) == 8:
        return (tzid, value)
    at = date_or_instant(replace(line, value=value))
    return at.astimezone(UTC) if isinstance(at, datetime) else at


def numbered(events: list[Component]) -> Iterator[Component]:
    """The entries with a number in place of each UID, since a UID tells who wrote it.

    Among entries with one UID only those of the highest SEQUENCE count. If several have it, each
    gets a number of its own and a copy of the changed instances: a time is busy if any of them says
    so.
    """
    groups: dict[str, list[Component]] = {}
    for place, event in enumerate(events):
        uid = event.one("UID")
        groups.setdefault(uid.value if uid else f"\0{place}", []).append(event)
    number = count()
    for group in groups.values():
        changes = [event for event in group if event.one("RECURRENCE-ID")]
        masters = [event for event in group if not event.one("RECURRENCE-ID")]
        newest = max((_sequence(event) for event in masters), default=0)
        whole = [[event] for event in masters if _sequence(event) == newest] or [[]]
        for entries in whole:
            name = Line("UID", {}, str(next(number)))
            for event in (*entries, *changes):
                lines = [line for line in event.lines if line.name != "UID"]
                yield Component(event.name, [*lines, name])


def _sequence(event: Component) -> int:
    line = event.one("SEQUENCE")
    return int(line.value) if line else 0


def bring_forward(event: Component, since: datetime, lasts: Length) -> None:
    """Lets an entry that repeats by day or week begin shortly before `since`, so that its past
    costs nothing.

    The start moves by whole steps of the rule, to a wall time that exists, and ends well before
    `since`, so all later instances stay the same. A rule with COUNT is left alone.
    """
    rules, starts = event.all("RRULE"), event.one("DTSTART")
    if len(rules) != 1 or starts is None or starts.parameters.get("TZID", "").startswith("X-"):
        return
    parts = dict(part.partition("=")[::2] for part in rules[0].value.split(";"))
    step = _DAYS_A_STEP.get(parts.get("FREQ", ""), 0) * int(parts.get("INTERVAL", 1))
    if not step or "COUNT" in parts:
        return
    begins = date_or_instant(starts)
    first = date(begins.year, begins.month, begins.day)
    latest = since.date() - _MARGIN - timedelta(days=lasts.days + lasts.seconds // 86_400)
    for steps in ((latest - first).days // step, (latest - first).days // step - 1):
        moved = f"{first + timedelta(days=max(steps, 0) * step):%Y%m%d}{starts.value[8:]}"
        at = date_or_instant(replace(starts, value=moved))
        if steps > 0 and not (isinstance(at, datetime) and is_skipped(at)):
            starts.value = moved
            return
