"""VTIMEZONE: a zone's rules as a calendar file carries them (RFC 5545 section 3.6.5)."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from icalendar import Timezone, TimezoneDaylight, TimezoneStandard

from bookings.domain.zones import zone

_Part = TimezoneStandard | TimezoneDaylight
_DAY = timedelta(days=1)
_STEP = timedelta(days=3)
"""No zone has changed twice within a week since 1999, so no step misses a change."""
_SECOND = timedelta(seconds=1)
_NOTHING = timedelta()
_LOOK_BACK = timedelta(days=366)
# By definition the onset of a VTIMEZONE is a local time.
_LONG_AGO = datetime(1970, 1, 1)  # noqa: DTZ001


@lru_cache(maxsize=100)
def vtimezone(time_zone: str, first: datetime, last: datetime) -> Timezone:
    """The VTIMEZONE of an IANA zone for at least `first` to `last` (aware instants), the offset in
    force at `first` included.

    It has one STANDARD or DAYLIGHT for each transition, each with only a DTSTART: programs in use
    drop all but the first value of an RDATE. A transition that changes only the name has equal
    offsets. It begins with a STANDARD, the last one before `first`, since some programs accept
    nothing else. It is shared by all who ask for the same, such as the invitations to one meeting:
    do not change it. Refused("unknown-zone").
    """
    tz = zone(time_zone)
    first, last = (instant.astimezone(UTC).replace(microsecond=0) for instant in (first, last))
    onsets = list(_onsets(tz, first - _LOOK_BACK, last))
    before = [
        number
        for number, onset in enumerate(onsets)
        if onset <= first and not _is_forward(tz, onset)
    ]
    component = Timezone()
    component.add("tzid", time_zone)
    if not before:
        standing = (first - _LOOK_BACK).astimezone(tz)
        component.add_component(_observance(TimezoneStandard(), _LONG_AGO, standing, standing))
    for onset in onsets[before[-1] if before else 0 :]:
        old, new = (onset - _SECOND).astimezone(tz), onset.astimezone(tz)
        local = onset.replace(tzinfo=None) + (old.utcoffset() or _NOTHING)
        component.add_component(
            _observance(
                TimezoneDaylight() if _is_forward(tz, onset) else TimezoneStandard(),
                local,
                old,
                new,
            )
        )
    return component


def _is_forward(tz: ZoneInfo, onset: datetime) -> bool:
    """Whether clocks go towards summer time; true in Dublin's spring too, where tzdata treats
    winter as the exception.
    """
    return (onset.astimezone(tz).dst() or _NOTHING) > (
        (onset - _SECOND).astimezone(tz).dst() or _NOTHING
    )


def _observance(part: _Part, onset: datetime, old: datetime, new: datetime) -> _Part:
    """Fills `part`: from the local time `onset`, read by the old offset, clocks show the offset of
    `new`.
    """
    part.add("dtstart", onset)
    part.add("tzoffsetfrom", old.utcoffset())
    part.add("tzoffsetto", new.utcoffset())
    part.add("tzname", new.tzname())
    return part


def _onsets(tz: ZoneInfo, first: datetime, last: datetime) -> Iterator[datetime]:
    """The UTC instants at which the zone's offset or name changes.

    They run from `first` to the whole day after `last`. Two changes within a day are seen as one.
    """
    past = first - (first - last) // _DAY * _DAY
    reading = _reading(tz, first)
    while first < past:
        following = min(first + _STEP, past)
        then = _reading(tz, following)
        if reading != then:
            low, high = first, following
            while high - low > _SECOND:
                middle = low + timedelta(seconds=(high - low) // _SECOND // 2)
                if _reading(tz, middle) == reading:
                    low = middle
                else:
                    high = middle
            yield high
        first, reading = following, then


def _reading(tz: ZoneInfo, instant: datetime) -> tuple[timedelta | None, str | None]:
    local = instant.astimezone(tz)
    return local.utcoffset(), local.tzname()
