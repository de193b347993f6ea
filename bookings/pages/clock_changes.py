"""What a reader should know of a day on which clocks change, in sentences."""

from datetime import datetime, timedelta

from bookings.domain.zones import place, zone
from bookings.pages.ribbon import LocalDay


def clock_changes(day: LocalDay, other_zone: str | None) -> list[str]:
    """What a reader should know of this day's clocks, in sentences; empty on an ordinary day."""
    told = []
    here = place(day.time_zone)
    length = day.period.ends_at - day.period.starts_at
    if length != timedelta(days=1):
        told.append(f"Clocks change in {here}: this day has {_hours(length)}.")
    if other_zone:
        before, after = (
            _ahead(instant, day.time_zone, other_zone)
            for instant in (day.period.starts_at, day.period.ends_at)
        )
        if before != after:
            there = place(other_zone)
            if not told:
                told.append(f"Clocks change in {there} on this day.")
            was = (
                _hours(abs(before))
                if (before > timedelta()) == (after > timedelta()) and before and after
                else _relation(before)
            )
            told.append(f"From now on {there} is {_relation(after)}, not {was}.")
    return told


def _ahead(instant: datetime, time_zone: str, other_zone: str) -> timedelta:
    there, here = (
        instant.astimezone(zone(name)).utcoffset() or timedelta()
        for name in (other_zone, time_zone)
    )
    return there - here


def _relation(ahead: timedelta) -> str:
    if not ahead:
        return "on the same time"
    return f"{_hours(abs(ahead))} {'ahead' if ahead > timedelta() else 'behind'}"


def _hours(length: timedelta) -> str:
    hours, minutes = divmod(int(length.total_seconds()) // 60, 60)
    said = []
    if hours:
        said.append(f"{hours} hour{'' if hours == 1 else 's'}")
    if minutes:
        said.append(f"{minutes} minutes")
    return " and ".join(said)
