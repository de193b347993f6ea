"""Keeps the installed time-zone rules, so that an email can name old times after an upgrade."""

from datetime import datetime

from bookings.domain.zone_rules import installed
from bookings.domain.zones import TZDATA_VERSION
from bookings.models import KeptZoneRules


def keep_zone_rules(*, now: datetime) -> None:
    """Keeps the installed zone rules, once a year."""
    if KeptZoneRules.objects.filter(pk=TZDATA_VERSION, year=now.year).exists():
        return
    rules = installed(now.year)
    KeptZoneRules.objects.bulk_create(
        [
            KeptZoneRules(
                tzdata_version=TZDATA_VERSION, year=rules.year, offsets=rules.offsets, kept_at=now
            )
        ],
        update_conflicts=True,
        unique_fields=["tzdata_version"],
        update_fields=["year", "offsets", "kept_at"],
    )
