"""The offsets of one version of the zone rules, in a form that can be stored.

After an upgrade they tell which hour people had been told.
"""

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from zoneinfo import ZoneInfo, available_timezones

from bookings.domain.zones import is_known, zone

YEARS = 4
"""How many years a copy covers, from the beginning of its first year, UTC. A new one is made each
year, so three lie ahead.
"""
_DAY, _SECOND = timedelta(days=1), timedelta(seconds=1)
Offsets = Sequence[tuple[int, int]]


@dataclass(frozen=True, slots=True)
class ZoneRules:
    """The rules of one version from the first day of `year`.

    For each zone: (second since 1970 from which the offset holds, offset from UTC in seconds),
    rising.
    """

    year: int
    offsets: Mapping[str, Offsets]

    def local(self, instant: datetime, time_zone: str) -> datetime | None:
        """The wall time there, without a zone; None outside the stored years and for an unknown
        zone.
        """
        kept = self.offsets.get(time_zone, ())
        if not kept or not self.year <= instant.astimezone(UTC).year < self.year + YEARS:
            return None
        _, offset = kept[
            bisect_right(kept, int(instant.timestamp()), key=lambda since: since[0]) - 1
        ]
        return instant.astimezone(UTC).replace(tzinfo=None) + timedelta(seconds=offset)

    def differ(self, time_zone: str) -> bool:
        """Whether the installed rules differ for that zone in those years; True for an unknown
        zone.
        """
        return self.offsets.get(time_zone) != installed_offsets(time_zone, self.year)


@cache
def installed(year: int) -> ZoneRules:
    """The installed rules of every zone, from the first day of `year`."""
    return ZoneRules(
        year,
        {
            name: installed_offsets(name, year)
            for name in sorted(available_timezones())
            if is_known(name)
        },
    )


@cache
def installed_offsets(time_zone: str, year: int) -> Offsets:
    """The installed rules of one zone.

    An offset that leaves and returns within a day is not seen.
    """
    tz = zone(time_zone)
    day, last = datetime(year, 1, 1, tzinfo=UTC), datetime(year + YEARS, 1, 1, tzinfo=UTC)
    found = [(int(day.timestamp()), _offset(tz, day))]
    while day < last:
        following = day + _DAY
        if _offset(tz, following) != found[-1][1]:
            found.append((int(_change(tz, day, following).timestamp()), _offset(tz, following)))
        day = following
    return found


def _change(tz: ZoneInfo, low: datetime, high: datetime) -> datetime:
    """The instant between the two at which the offset changes."""
    while high - low > _SECOND:
        middle = low + (high - low) // _SECOND // 2 * _SECOND
        if _offset(tz, middle) == _offset(tz, low):
            low = middle
        else:
            high = middle
    return high


def _offset(tz: ZoneInfo, instant: datetime) -> int:
    return int((instant.astimezone(tz).utcoffset() or timedelta()).total_seconds())
