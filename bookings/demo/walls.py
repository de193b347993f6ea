"""Wall times by zoneinfo alone. The story checks the solver with them, so they share no code."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

Week = dict[str, tuple[str, str]]
"""The window of each weekday: {"TU": ("09:00", "12:00")}."""

_WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")


def starts(
    week: Week, time_zone: str, first: date, last: date, *, minutes: int, step: int
) -> list[datetime]:
    """Every start (UTC) from `first` to `last` in that zone with `minutes` before the window ends.

    For windows that touch no clock change of that zone.
    """
    found = []
    for on in (first + timedelta(days=ahead) for ahead in range((last - first).days + 1)):
        if _WEEKDAYS[on.weekday()] not in week:
            continue
        opens, closes = (time.fromisoformat(clock) for clock in week[_WEEKDAYS[on.weekday()]])
        wall = datetime.combine(on, opens)
        while wall + timedelta(minutes=minutes) <= datetime.combine(on, closes):
            found.append(wall.replace(tzinfo=ZoneInfo(time_zone)).astimezone(UTC))
            wall += timedelta(minutes=step)
    return found


def midnight(on: date, time_zone: str) -> datetime:
    """When that date begins in that zone (UTC)."""
    return datetime.combine(on, time(), ZoneInfo(time_zone)).astimezone(UTC)


def in_words(instant: datetime, time_zone: str) -> str:
    """The instant in that zone: "Mon 22 Mar 18:00 New York"."""
    local = instant.astimezone(ZoneInfo(time_zone))
    return (
        f"{local:%a} {local.day} {local:%b %H:%M} {time_zone.rpartition('/')[2].replace('_', ' ')}"
    )


def both(instant: datetime, first: str, second: str) -> str:
    """The instant in both zones."""
    return f"{in_words(instant, first)} = {in_words(instant, second)}"


def wall(instant: datetime, time_zone: str) -> str:
    """The instant in that zone as RFC 3339 with its offset: "2027-03-22T18:00:00-04:00"."""
    return instant.astimezone(ZoneInfo(time_zone)).isoformat()


def instant_of(text: str) -> datetime:
    """The instant (UTC) of RFC 3339 text with an offset."""
    return datetime.fromisoformat(text).astimezone(UTC)
