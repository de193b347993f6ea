"""Zones from one pinned copy of the IANA time zone database, whatever the machine has installed.

zoneinfo looks at the system's copy first, and an old system would then derive wrong hours.
Importing this module makes the pinned `tzdata` package the only source.
"""

import zoneinfo
from functools import cache

import tzdata  # data only: the pinned copy, whose version is checked at start-up

from bookings.domain.errors import Refused

zoneinfo.reset_tzpath(to=())

TZDATA_VERSION: str = tzdata.IANA_VERSION
"""The version that derives every local time, such as "2026f"."""


@cache
def _known() -> frozenset[str]:
    return frozenset(zoneinfo.available_timezones())


def is_known(name: str) -> bool:
    """Whether the pinned copy has that IANA zone ("localtime", "Factory" and offsets are none)."""
    return name in _known() and name not in ("localtime", "Factory")


@cache
def zone(name: str) -> zoneinfo.ZoneInfo:
    """The zone of that IANA name. Refused("unknown-zone") for any other name."""
    if not is_known(name):
        raise Refused(
            "unknown-zone",
            f"{name[:60]!r} is not an IANA time zone; use a name such as Europe/Dublin.",
            time_zone=name[:60],
        )
    return zoneinfo.ZoneInfo(name)


def place(name: str) -> str:
    """The zone's name as people say it: "America/New_York" is "New York"."""
    return name.rsplit("/", 1)[-1].replace("_", " ")
