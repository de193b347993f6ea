"""Older time-zone rules, by which people were told the times of their lessons.

They are kept so that an email can still name the old time after new rules are installed.
"""

from django.db import models


class KeptZoneRules(models.Model):
    """One version of tzdata: each zone's offsets from the first day of `year` on.

    `offsets` is stored as domain.zone_rules.ZoneRules holds it.
    """

    tzdata_version = models.CharField(max_length=8, primary_key=True)
    year = models.PositiveSmallIntegerField()
    offsets = models.JSONField()
    kept_at = models.DateTimeField()

    class Meta:
        ordering = ["kept_at"]

    def __str__(self) -> str:
        return f"{self.tzdata_version} from {self.year}"
