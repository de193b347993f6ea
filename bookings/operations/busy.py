"""Busy time from other calendars: added, renamed, stored, removed.

The caller has fetched before, so nothing here waits for a network. A clash with a booked meeting is
shown and never acted on. The last good copy stays where a fetch fails.
"""

import random
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID, uuid4, uuid5

from accounts.models import Instructor, Student, User
from bookings.access import not_there
from bookings.domain.errors import Refused
from bookings.domain.timeline import Period
from bookings.models import BusyCalendar, BusyPeriod
from bookings.operations.audit import record
from bookings.operations.versions import check_version
from bookings.queries.busy import Person, calendars_of

MOST_CALENDARS = 5
EVERY = timedelta(hours=1)
FIRST_AGAIN, LATEST_AGAIN = timedelta(minutes=15), timedelta(days=1)
CLAIMED_FOR = timedelta(minutes=5)
"""Longer than a fetch takes. If a worker dies half-way, another one fetches after this time."""
AGAIN_AFTER = timedelta(minutes=1)
"""The least time between two fetches that somebody asks for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Copy:
    """The busy periods of a calendar, and what its next fetch needs to know."""

    periods: Sequence[Period]
    covers_until: datetime
    unknown_zones: int
    notes: Sequence[str] = ()
    digest: str
    time_zone: str
    etag: str = ""
    last_modified: str = ""


def add_address(
    *,
    actor: User,
    person: Person,
    name: str,
    address: str,
    host: str,
    once: UUID | None = None,
    now: datetime,
) -> BusyCalendar:
    """Adds a calendar that is fetched, for the first time soon.

    Refused: "invalid" beyond MOST_CALENDARS, "already-done" where this person has one that was
    added with this `once`: a form sent twice adds one.
    """
    calendar = _new(person, name, once, now)
    calendar.host, calendar.address, calendar.next_at = host, address, now
    calendar.save()
    record(actor=actor, verb="added busy calendar", thing=calendar, now=now)
    return calendar


def add_file(
    *,
    actor: User,
    person: Person,
    name: str,
    copy: Copy,
    once: UUID | None = None,
    now: datetime,
) -> BusyCalendar:
    """Adds a calendar from an uploaded file, with its busy time. Refused as `add_address`."""
    calendar = _new(person, name, once, now)
    calendar.tried_at = now
    calendar.save()
    _store(calendar, copy, now)
    record(actor=actor, verb="added busy calendar", thing=calendar, now=now)
    return calendar


def rename_calendar(
    *, actor: User, calendar: BusyCalendar, name: str, version: int | None = None, now: datetime
) -> BusyCalendar:
    """Renames a calendar. Refused: "invalid", "not-found", "stale"."""
    current, wanted = _locked(calendar.pk, version), _checked_name(name)
    if wanted == current.name:
        return current
    current.name = wanted
    current.version += 1
    current.save(update_fields=["name", "version"])
    record(actor=actor, verb="renamed busy calendar", thing=current, fields=["name"], now=now)
    return current


def remove_calendar(
    *, actor: User, calendar: BusyCalendar, version: int | None = None, now: datetime
) -> None:
    """Removes a calendar with its busy time. Refused: "not-found", "stale"."""
    current = _locked(calendar.pk, version)
    record(actor=actor, verb="removed busy calendar", thing=current, now=now)
    current.delete()


def ask_again(
    *, actor: User, calendar: BusyCalendar, version: int | None = None, now: datetime
) -> BusyCalendar:
    """Makes a calendar due for a fetch now.

    Refused: "wrong-kind" for a file, "too-many-requests" within a minute of the last fetch,
    "not-found", "stale".
    """
    current = _locked(calendar.pk, version)
    if current.is_file:
        raise Refused("wrong-kind", "A file is not fetched: remove it and add the new one.")
    if current.tried_at is not None and now < current.tried_at + AGAIN_AFTER:
        raise Refused(
            "too-many-requests",
            "It was fetched less than a minute ago: wait a moment.",
            retry_after=60,
        )
    current.next_at = now
    current.save(update_fields=["next_at"])
    record(actor=actor, verb="asked for busy calendar", thing=current, fields=["next_at"], now=now)
    return current


def claim_calendar(*, calendar_id: int, now: datetime) -> BusyCalendar | None:
    """Claims a calendar that is due, so that nobody else fetches it.

    None where it is not due any more or is gone.
    """
    rows = BusyCalendar.objects.filter(pk=calendar_id, next_at__lte=now)
    if not rows.update(next_at=now + CLAIMED_FOR, tried_at=now):
        return None
    return BusyCalendar.objects.select_related("owner", "student__user").get(pk=calendar_id)


def keep_copy(*, calendar_id: int, copy: Copy | None, now: datetime) -> None:
    """Stores a good fetch. None for a calendar that has not changed."""
    current = BusyCalendar.objects.select_for_update(no_key=True).filter(pk=calendar_id).first()
    if current is None:
        return  # removed meanwhile
    if copy is None:
        _mark_good(current, now)
        current.save(update_fields=["fetched_at", "failures", "problem", "problem_words"])
    else:
        _store(current, copy, now)
    _set_next_fetch(current, EVERY, now)


def _mark_good(calendar: BusyCalendar, now: datetime) -> None:
    calendar.fetched_at, calendar.failures = now, 0
    calendar.problem, calendar.problem_words = "", ""


def note_problem(*, calendar_id: int, refusal: Refused, now: datetime) -> None:
    """Stores a failed fetch. The next one is 15 minutes later, then twice that, up to a day."""
    current = BusyCalendar.objects.select_for_update(no_key=True).filter(pk=calendar_id).first()
    if current is None:
        return
    current.failures = min(current.failures + 1, 1000)
    current.problem, current.problem_words = refusal.code, refusal.detail[:300]
    current.save(update_fields=["failures", "problem", "problem_words"])
    wait = FIRST_AGAIN * 2 ** min(current.failures - 1, 10)
    _set_next_fetch(current, min(wait, LATEST_AGAIN), now)


def _new(person: Person, name: str, once: UUID | None, now: datetime) -> BusyCalendar:
    # Locked, so that two requests at once cannot both be the fifth.
    whole = Instructor if isinstance(person, Instructor) else Student
    whole.objects.select_for_update(no_key=True).get(pk=person.pk)
    # Of this person alone: what is sealed is bound to the key.
    key = uuid5(once, f"{whole.__name__} {person.pk}") if once else uuid4()
    if calendars_of(person).filter(key=key).exists():
        raise Refused("already-done", "This calendar has been added already.")
    check_room(person)
    owner_id = person.user_id
    student_id = person.pk if owner_id is None else None
    return BusyCalendar(
        owner_id=owner_id, student_id=student_id, name=_checked_name(name), key=key, added_at=now
    )


def check_room(person: Person) -> None:
    """Refused("invalid") where the person may not have another calendar."""
    if calendars_of(person).count() >= MOST_CALENDARS:
        raise Refused("invalid", f"There are {MOST_CALENDARS} calendars already: remove one first.")


def _checked_name(name: str) -> str:
    name = name.strip()
    if not name or len(name) > 60:
        raise Refused(
            "invalid",
            "Give the calendar a name of up to 60 characters, such as Orchestra.",
            field="name",
        )
    return name


def _locked(calendar_id: int, version: int | None) -> BusyCalendar:
    current = BusyCalendar.objects.select_for_update(no_key=True).filter(pk=calendar_id).first()
    if current is None:
        raise not_there()
    check_version(
        current,
        version,
        detail="The calendar has changed since you read it. Read it again, then decide.",
    )
    return current


def _store(calendar: BusyCalendar, copy: Copy, now: datetime) -> None:
    """Writes a copy. It touches only periods that differ: most stay from one hour to the next."""
    wanted = {(period.starts_at, period.ends_at) for period in copy.periods}
    rows = list(calendar.periods.order_by().values_list("pk", "starts_at", "ends_at"))
    gone = [pk for pk, *times in rows if tuple(times) not in wanted]
    for first in range(0, len(gone), 500):
        BusyPeriod.objects.filter(pk__in=gone[first : first + 500]).delete()
    new = sorted(wanted - {(starts_at, ends_at) for _, starts_at, ends_at in rows})
    BusyPeriod.objects.bulk_create(
        (BusyPeriod(calendar=calendar, starts_at=first, ends_at=past) for first, past in new),
        batch_size=500,
    )
    for name in ("covers_until", "unknown_zones", "digest", "time_zone", "etag", "last_modified"):
        setattr(calendar, name, getattr(copy, name))
    calendar.notes = list(copy.notes)
    _mark_good(calendar, now)
    calendar.save()


def _set_next_fetch(calendar: BusyCalendar, wait: timedelta, now: datetime) -> None:
    # Jitter keeps the calendars of one host from being fetched in the same minute.
    calendar.next_at = now + wait * random.uniform(0.8, 1.2)  # noqa: S311  not a secret
    calendar.save(update_fields=["next_at"])
