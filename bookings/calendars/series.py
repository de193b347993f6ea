"""What repeats in a foreign calendar, made plain before a library expands it (RFC 5545 section 3.8.5)."""

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, tzinfo
from itertools import count

from bookings.calendars.content import Component, Line
from bookings.calendars.spans import Length, is_skipped, moment

_UNTIL_A_DATE = re.compile(r"UNTIL=(\d{8})(?![T\d])", re.ASCII)
_UNTIL_LOCAL = re.compile(r"UNTIL=(\d{8}T\d{6})(?![Z\d])", re.ASCII)
_DAYS_A_STEP = {"DAILY": 1, "WEEKLY": 7}
_MARGIN = timedelta(days=3)


def settle_until(rule: Line, clock: tzinfo) -> None:
    """Write UNTIL in UTC, as section 3.3.10 wants it beside a start that is a time.

    A date lets that whole date in. A time without Z is on the clock of the start: calendars that leave the Z out
    mean that.
    """

    def in_utc(found: re.Match[str]) -> str:
        at = datetime.fromisoformat(found[1]).replace(tzinfo=clock)
        return f"UNTIL={at.astimezone(UTC):%Y%m%dT%H%M%SZ}"

    rule.value = _UNTIL_LOCAL.sub(in_utc, _UNTIL_A_DATE.sub(r"UNTIL=\1T235959", rule.value))


def keep_overrides(events: list[Component]) -> None:
    """Take an instance out of EXDATE where the same UID also says what it was changed to.

    Some calendars write a moved instance as taken out and as moved; the library would leave it out.
    """
    changed = {
        (uid.value, _key(line, line.value))
        for event in events
        if (uid := event.one("UID")) and (line := event.one("RECURRENCE-ID"))
    }
    for event in events:
        uid = event.one("UID")
        if uid is None:
            continue
        for line in event.all("EXDATE"):
            values = line.value.split(",")
            kept = [one for one in values if (uid.value, _key(line, one)) not in changed]
            line.value = ",".join(kept)
        event.lines = [line for line in event.lines if line.name != "EXDATE" or line.value]


def _key(line: Line, value: str) -> object:
    """What tells one instance from another: the instant, or the text where only the file knows its zone."""
    tzid = line.parameters.get("TZID", "")
    if tzid.startswith("X-") or len(value) == 8:
        return (tzid, value)
    at = moment(replace(line, value=value))
    return at.astimezone(UTC) if isinstance(at, datetime) else at


def numbered(events: list[Component]) -> Iterator[Component]:
    """The entries with a number in the place of each UID, for a UID tells of who wrote it.

    Of several entries with one UID the highest SEQUENCE counts. Those of the same SEQUENCE count all, under a
    number each, and each has the changed instances: a time that one of them calls busy is busy.
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
    """Let an entry that repeats by day or week begin shortly before `since`, so that its past costs nothing.

    The start moves by whole steps of the rule, to a wall time that exists there, and ends well before `since`: all
    later instances stay what they were. A rule that counts its instances stays as it is.
    """
    rules, starts = event.all("RRULE"), event.one("DTSTART")
    if len(rules) != 1 or starts is None or starts.parameters.get("TZID", "").startswith("X-"):
        return
    parts = dict(part.partition("=")[::2] for part in rules[0].value.split(";"))
    step = _DAYS_A_STEP.get(parts.get("FREQ", ""), 0) * int(parts.get("INTERVAL", 1))
    if not step or "COUNT" in parts:
        return
    begins = moment(starts)
    first = date(begins.year, begins.month, begins.day)
    latest = since.date() - _MARGIN - timedelta(days=lasts.days + lasts.seconds // 86_400)
    for steps in ((latest - first).days // step, (latest - first).days // step - 1):
        moved = f"{first + timedelta(days=max(steps, 0) * step):%Y%m%d}{starts.value[8:]}"
        at = moment(replace(starts, value=moved))
        if steps > 0 and not (isinstance(at, datetime) and is_skipped(at)):
            starts.value = moved
            return
