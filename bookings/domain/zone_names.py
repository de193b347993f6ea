"""One name for each zone: those in tzdata's table of countries, and the new name of old ones."""

from functools import cache
from importlib.resources import files


@cache
def current_names() -> tuple[str, ...]:
    """The current name of every zone that a country has, such as "Asia/Kolkata", in order."""
    rows = (line.split("\t") for line in _lines("zone.tab") if not line.startswith("#"))
    return tuple(sorted(row[2] for row in rows))


@cache
def older_names() -> dict[str, str]:
    """What older and other names are called now: {"Asia/Calcutta": "Asia/Kolkata"}."""
    names = set(current_names())
    links = dict(line.split()[2:0:-1] for line in _lines("tzdata.zi") if line.startswith("L "))
    found = {}
    for name, target in links.items():
        while target not in names and target in links:
            target = links[target]
        if name not in names and target in names:
            found[name] = target
    return found


def current_name(name: str) -> str:
    """The zone's current name; a name without a country, such as UTC, stays."""
    return older_names().get(name, name)


def _lines(table: str) -> list[str]:
    text = files("tzdata").joinpath("zoneinfo", table).read_text(encoding="utf-8")
    return text.splitlines()
