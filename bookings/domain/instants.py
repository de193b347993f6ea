"""From a zone's wall clock to instants. Gaps and folds of the clock are decided here."""

from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta

from bookings.domain.errors import Refused
from bookings.domain.timeline import EPOCH
from bookings.domain.wall import DAY, pieces, spans
from bookings.domain.zones import place, zone


def instants(on: date, minute: int, time_zone: str) -> tuple[datetime, ...]:
    """The instants (UTC, rising) at which the zone's wall clock shows that minute (0-1440) of that
    date.

    No instant in a gap, two in a fold, else one.
    """
    wall = datetime.combine(on, time()) + timedelta(minutes=minute)
    readings = sorted({_reading(wall, fold, time_zone) for fold in (0, 1)})
    return tuple(instant for instant in readings if _wall(instant, time_zone) == wall)


def first_instants(dates: Sequence[date], minute: int, time_zone: str) -> list[datetime | None]:
    """For each of these dates, which rise, the first instant (UTC) at which the zone's wall clock
    shows that minute (0-1439); None in a gap.
    """
    if not dates:
        return []
    midnights = [(on - EPOCH.date()).days * DAY for on in dates]
    around = spans(time_zone, midnights[0] - DAY, midnights[-1] + 3 * DAY)
    walls = [midnight + minute * 60 for midnight in midnights]
    shown = [pieces(wall, wall + 1, around) for wall in walls]
    return [EPOCH + timedelta(seconds=one[0][0]) if one else None for one in shown]


def resolve(wall: datetime, fold: int, time_zone: str) -> datetime:
    """The instant (UTC) of a wall time without an offset.

    `fold` 1 means the second of two instants (PEP 495); where there is one, `fold` changes nothing.
    Refused("clock-gap") where the clocks jump over the wall time. A calendar would read it with the
    offset before the gap (RFC 5545 section 3.3.5); a person who chooses a time is told instead.
    """
    if wall.tzinfo is not None:
        raise ValueError("a wall time has no offset")
    instant = _reading(wall, fold, time_zone)
    if _wall(instant, time_zone) != wall:
        earlier = _wall(_reading(wall, 1, time_zone), time_zone)
        later = _wall(_reading(wall, 0, time_zone), time_zone)
        raise Refused(
            "clock-gap",
            f"The clocks in {place(time_zone)} jump over {wall:%Y-%m-%d %H:%M}: choose "
            f"{earlier:%Y-%m-%d %H:%M} or {later:%Y-%m-%d %H:%M}.",
            time_zone=time_zone,
            earlier=earlier.isoformat(timespec="minutes"),
            later=later.isoformat(timespec="minutes"),
            field="starts_at",
        )
    return instant


def resolve_once(wall: datetime, time_zone: str) -> datetime:
    """The instant (UTC) of a wall time that the clocks show exactly once.

    Refused: "clock-gap" as in `resolve`; "clock-fold" where the clocks show it twice, since nobody
    can tell which is meant.
    """
    first = resolve(wall, 0, time_zone)
    second = resolve(wall, 1, time_zone)
    if first != second:
        raise Refused(
            "clock-fold",
            f"The clocks in {place(time_zone)} show {wall:%Y-%m-%d %H:%M} twice: choose another "
            "time.",
            time_zone=time_zone,
            earlier=first.astimezone(zone(time_zone)).isoformat(),
            later=second.astimezone(zone(time_zone)).isoformat(),
            field="starts_at",
        )
    return first


def _reading(wall: datetime, fold: int, time_zone: str) -> datetime:
    try:
        return wall.replace(tzinfo=zone(time_zone), fold=fold).astimezone(UTC)
    except OverflowError:
        raise Refused("invalid", "Choose a date between the years 2 and 9998.") from None


def _wall(instant: datetime, time_zone: str) -> datetime:
    return instant.astimezone(zone(time_zone)).replace(tzinfo=None, fold=0)
