"""What is kept for a while: answers to requests with an Idempotency-Key, and the zone rules by which people are told their hours."""

from datetime import datetime, timedelta

from bookings.domain.zone_rules import installed
from bookings.domain.zones import TZDATA_VERSION
from bookings.models import KeptAnswer, KeptZoneRules

KEPT_FOR = timedelta(hours=24)


def forget_old_answers(now: datetime) -> None:
    """Deletes answers that no retry would get any more."""
    KeptAnswer.objects.filter(made_at__lte=now - KEPT_FOR).delete()


def keep_zone_rules(*, now: datetime) -> None:
    """Keeps the installed zone rules, once each year: those who are told an hour today may have to be told of it after an upgrade."""
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
