"""Dates, zones and other cells of a file of people, as people write them."""

from datetime import date, datetime

from bookings.domain.zone_names import current_name, current_names
from bookings.domain.zones import is_known

_DATES = ("%Y-%m-%d", "%d.%m.%Y", "%d %B %Y")


def seen(typed: str) -> str:
    """What stands in a cell, shortened, as the end of a fault."""
    return f" It says “{typed[:40]}”." if typed else " It is empty."


def read_date(typed: str) -> date | None:
    """A date such as 2034-06-01; None for anything else, such as 6/1/34, which is two dates."""
    for form in _DATES:
        try:
            return datetime.strptime(typed, form).date()  # noqa: DTZ007  a date has no zone
        except ValueError:
            continue
    return None


def read_zone(typed: str) -> str | None:
    """The current name of the zone that is meant, in any capitals and with blanks; or None."""
    name = _ZONES.get(_key(typed), typed)
    return current_name(name) if is_known(name) else None


def zone_meant(typed: str) -> str:
    """A question after a city that has a zone of its name, such as Dublin; empty for others."""
    meant = _CITIES.get(_key(typed).rpartition("/")[2])
    return f" Did you mean {meant}?" if meant else ""


def _key(name: str) -> str:
    return "_".join(name.casefold().split())


_ZONES = {_key(name): name for name in current_names()}
_CITIES = {key.rpartition("/")[2]: name for key, name in _ZONES.items()}
