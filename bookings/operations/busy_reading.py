"""What a calendar says about one person, read outside any transaction: it takes a process, or another machine, and their time."""

import hashlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta

from django.core.cache import cache

from accounts.models import User
from bookings.domain.errors import Refused
from bookings.inbound.expanding import AHEAD, PATIENCE, expand
from bookings.inbound.fetching import Fetched, Tags, fetch
from bookings.models import BusyCalendar
from bookings.operations.busy import Copy, check_room
from bookings.queries.busy import Person, known_uids, zone_of

STALE_AFTER = timedelta(days=30)
"""What was worked out is worked out anew after that, even unchanged: the window moves on."""
Fetching = Callable[[str, Tags | None], Fetched]


READING_SECONDS = 60
"""Longer than one file takes: where a process dies half-way, the next may be read after that."""


def read_file(data: bytes, person: Person, now: datetime, *, actor: User) -> Copy:
    """A file that `actor` uploaded for `person`. It waits for nothing: somebody's web page does.

    Refused: "calendar-unreadable", "calendar-too-much"; "too-many-requests" while another of the
    actor's is read, "busy" while this process reads others.
    """
    check_room(person)
    owner_id = person.user_id
    whose = BusyCalendar(owner_id=owner_id, student_id=person.pk if owner_id is None else None)
    with _one_at_a_time(actor):
        return _copy(Fetched(data, Tags()), whose, zone_of(person), now, patience=0)


@contextmanager
def _one_at_a_time(actor: User) -> Iterator[None]:
    """Holds the one place that a person has in all processes together."""
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
