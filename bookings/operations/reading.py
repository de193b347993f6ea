"""What a calendar says about one person, read outside any transaction: it takes a process, or another machine, and their time."""

import hashlib
from collections.abc import Callable
from datetime import datetime, timedelta

from bookings.inbound.expanding import AHEAD, expand
from bookings.inbound.fetching import Fetched, Tags, fetch
from bookings.models import BusyCalendar
from bookings.operations.busy import Copy
from bookings.queries.busy import Person, known_uids, zone_of

STALE_AFTER = timedelta(days=30)
"""What was worked out is worked out anew after that, even unchanged: the window moves on."""
Fetching = Callable[[str, Tags | None], Fetched]


def read_file(data: bytes, person: Person, now: datetime) -> Copy:
    """An uploaded file. Refused: "calendar-unreadable", "calendar-too-much", "busy"."""
    owner_id = person.user_id
    whose = BusyCalendar(owner_id=owner_id, student_id=person.pk if owner_id is None else None)
    return _copy(Fetched(data, Tags()), whose, zone_of(person), now)


def read_address(calendar: BusyCalendar, now: datetime, fetching: Fetching = fetch) -> Copy | None:
    """What its address gives now; None where what is stored still holds.

    Refused: as above, "calendar-address" and "calendar-unanswered". A change is asked for only where what is stored was read on
    the same clock, is not going stale and had no problem.
    """
    time_zone = calendar.clock
    covers = calendar.covers_until
    is_fresh = (
        covers is not None
        and covers > now + AHEAD - STALE_AFTER
        and calendar.time_zone == time_zone
        and not calendar.problem
    )
    fetched = fetching(
        calendar.address, Tags(calendar.etag, calendar.last_modified) if is_fresh else None
    )
    if fetched.body is None or (is_fresh and _digest(fetched.body) == calendar.digest):
        return None
    return _copy(fetched, calendar, time_zone, now)


def _copy(fetched: Fetched, calendar: BusyCalendar, time_zone: str, now: datetime) -> Copy:
    data = fetched.body or b""
    found = expand(data, time_zone, now, known_uids(calendar, now))
    return Copy(
        periods=found.periods,
        covers_until=found.until,
        unknown_zones=found.unknown_zones,
        notes=found.notes,
        digest=_digest(data),
        time_zone=time_zone,
        etag=fetched.tags.etag,
        last_modified=fetched.tags.last_modified,
    )


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
