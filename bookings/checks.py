"""System checks: conditions for serving anybody."""

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any

import tzdata
from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, Warning, register
from django.db import connections

from bookings.domain.zones import TZDATA_VERSION
from bookings.models import Meeting, guards
from bookings.queries.retiming import is_due

EXPECTED_TZDATA = "2026f"


@register()
def one_time_zone_database(**_: Any) -> list[CheckMessage]:
    """The pinned copy of the time zone database must be the one in use: an older one gives wrong
    hours.
    """
    import zoneinfo

    if (
        zoneinfo.TZPATH
        or TZDATA_VERSION != EXPECTED_TZDATA
        or tzdata.IANA_VERSION != EXPECTED_TZDATA
    ):
        return [
            Error(
                f"tzdata {EXPECTED_TZDATA} must be the only source of zones; found "
                f"{TZDATA_VERSION}.",
                id="bookings.E001",
            )
        ]
    return []


@register(Tags.database)
def check_guards(databases: Sequence[str] | None = None, **_: Any) -> list[CheckMessage]:
    """Every guard must be there once the tables are."""
    return [
        Error(f"The guard {name} is missing; run migrate.", id="bookings.E002")
        for alias in databases or []
        for name in guards.missing(connections[alias])
    ]


@register()
def figures_can_be_told(**_: Any) -> list[CheckMessage]:
    """A token for figures needs the package that makes them."""
    if settings.METRICS_TOKEN and not settings.METRICS_ON:
        return [
            Warning(
                "METRICS_TOKEN is set, but requirements/metrics.txt is not installed: there is no "
                "/metrics/.",
                id="bookings.W003",
            )
        ]
    return []


def watch_retiming(now: Callable[[], datetime]) -> None:
    """Registers the check that meetings ahead follow the installed zone rules; `now` reads the
    clock.
    """

    @register(Tags.database)
    def zone_rules_followed(databases: Sequence[str] | None = None, **_: Any) -> list[CheckMessage]:
        if (
            not databases
            or Meeting._meta.db_table not in connections["default"].introspection.table_names()
            or not is_due(now())
        ):
            return []
        hint = "Look first: manage.py retime. Then: manage.py retime --write."
        return [
            Warning(
                f"Some meetings ahead were derived by another tzdata than {TZDATA_VERSION}.",
                hint=hint,
                id="bookings.W001",
            )
        ]
