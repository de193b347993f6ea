"""Reads the busy time in a foreign calendar, outside any transaction because it takes long."""

import hashlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta

from django.core.cache import cache

from accounts.models import User
from bookings.domain.errors import Refused
from bookings.inbound.children import PATIENCE
from bookings.inbound.expanding import AHEAD, expand
from bookings.inbound.fetching import Fetched, Tags, fetch
from bookings.models import BusyCalendar
from bookings.operations.busy import Copy, check_room
from bookings.queries.busy import Person, known_uids, zone_of

STALE_AFTER = timedelta(days=30)
"""A copy this old is worked out again, even if the calendar has not changed: the window moves."""
READING_SECONDS = 60
"""Longer than one file takes. After a process has died half-way, the next file waits this long."""
Fetching = Callable[[str, Tags | None], Fetched]


def read_file(data: bytes, person: Person, now: datetime, *, actor: User) -> Copy:
    """The busy time in a file that `actor` uploaded for `person`. Never waits: a page waits for it.

    Refused: "invalid" as `check_room`, "calendar-unreadable", "calendar-too-much";
    "too-many-requests" while another file of the actor's is read, "busy" while this process reads
    others.
    """
    check_room(person)
    owner_id = person.user_id
    unsaved = BusyCalendar(owner_id=owner_id, student_id=person.pk if owner_id is None else None)
    with _one_at_a_time(actor):
        return _copy(Fetched(data, Tags()), unsaved, zone_of(person), now, patience=0)


@contextmanager
def _one_at_a_time(actor: User) -> Iterator[None]:
    """Lets each person have one file read at a time, in all processes together."""
    key = f"reading-a-calendar:{actor.pk}"
    if not cache.add(key, True, READING_SECONDS):
        raise Refused(
            "too-many-requests",
            "Another calendar of yours is being read. Try again when that is done.",
            retry_after=5,
        )
    try:
        yield
    finally:
        cache.delete(key)


def fetch_copy(calendar: BusyCalendar, now: datetime, fetching: Fetching = fetch) -> Copy | None:
    """The busy time at the calendar's address; None where the stored copy still holds.

    Refused: "calendar-unreadable", "calendar-too-much", "calendar-address", "calendar-unanswered".
    """
    is_fresh = _is_fresh(calendar, now)
    tags = Tags(calendar.etag, calendar.last_modified) if is_fresh else None
    fetched = fetching(calendar.address, tags)
    if fetched.body is None or (is_fresh and _digest(fetched.body) == calendar.digest):
        return None
    return _copy(fetched, calendar, calendar.clock, now)


def _is_fresh(calendar: BusyCalendar, now: datetime) -> bool:
    """Whether the stored copy can be kept if the calendar has not changed."""
    covers = calendar.covers_until
    return (
        covers is not None
        and covers > now + AHEAD - STALE_AFTER
        and calendar.time_zone == calendar.clock
        and not calendar.problem
    )


def _copy(
    fetched: Fetched,
    calendar: BusyCalendar,
    time_zone: str,
    now: datetime,
    patience: float = PATIENCE,
) -> Copy:
    data = fetched.body or b""
    found = expand(data, time_zone, now, known_uids(calendar, now), patience=patience)
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
