"""Busy calendars and the periods that are read from them."""

from datetime import UTC, datetime, timedelta

from bookings.calendars.busy import busy
from bookings.domain.timeline import CELL, EPOCH
from tests.unit.calendars_samples import calendar_of

NOW = datetime(2027, 3, 1, 9, tzinfo=UTC)
YEAR = timedelta(days=366)


def said(
    *entries: str, zone: str = "Europe/Dublin", since: datetime = NOW, until: datetime = NOW + YEAR
) -> list[str]:
    """The busy periods as "2027-03-02T10:00/11:05" in UTC; a period over midnight shows its second
    date.
    """
    return [shown(*cells) for cells in busy(calendar_of(*entries), zone, since, until).cells]


def shown(first: int, past: int) -> str:
    starts_at, ends_at = EPOCH + first * CELL, EPOCH + past * CELL
    form = "%H:%M" if starts_at.date() == ends_at.date() else "%Y-%m-%dT%H:%M"
    return f"{starts_at:%Y-%m-%dT%H:%M}/{ends_at.strftime(form)}"
