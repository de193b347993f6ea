"""What one version of the zone rules says, as numbers that can be kept: after an upgrade they tell which hour somebody was told."""

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from zoneinfo import ZoneInfo, available_timezones

from bookings.domain.zones import is_known, zone

YEARS = 4
"""How far a copy reaches, from the beginning of its first year, UTC. It is taken anew each year, so three years lie ahead."""
_DAY, _SECOND = timedelta(days=1), timedelta(seconds=1)
Offsets = Sequence[tuple[int, int]]


@dataclass(frozen=True, slots=True)
class ZoneRules:
    """The rules of one version from the first day of `year`: for each zone (second since 1970 from which, offset from UTC in seconds)."""

    year: int
    offsets: Mapping[str, Offsets]

    def local(self, instant: datetime, time_zone: str) -> datetime | None:
        """What the clock there showed, without a zone; None outside the years kept and for a zone that was not known."""
        kept = self.offsets.get(time_zone, ())
        if not kept or not self.year <= instant.astimezone(UTC).year < self.year + YEARS:
            return None
        _, offset = kept[
            bisect_right(kept, int(instant.timestamp()), key=lambda since: since[0]) - 1
        ]
        return instant.astimezone(UTC).replace(tzinfo=None) + timedelta(seconds=offset)

    def differ(self, time_zone: str) -> bool:
        """Whether the installed rules say something else of that zone in those years; True where it was not known."""
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
    """The installed rules of one zone; two changes of the offset within a day would be one."""
    tz, last = zone(time_zone), datetime(year + YEARS, 1, 1, tzinfo=UTC)
    day, found = (
        datetime(year, 1, 1, tzinfo=UTC),
        [
            (
                int(datetime(year, 1, 1, tzinfo=UTC).timestamp()),
                _offset(tz, datetime(year, 1, 1, tzinfo=UTC)),
            )
        ],
    )
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
        low, high = (middle, high) if _offset(tz, middle) == _offset(tz, low) else (low, middle)
    return high


def _offset(tz: ZoneInfo, instant: datetime) -> int:
    return int((instant.astimezone(tz).utcoffset() or timedelta()).total_seconds())
