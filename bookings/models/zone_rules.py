"""The zone rules by which people were told their hours, kept so that these can be said again once other rules are installed."""

from django.db import models


class KeptZoneRules(models.Model):
    """One version of tzdata as domain.zone_rules has it: each zone's offsets from the first day of `year` on."""

    tzdata_version = models.CharField(max_length=8, primary_key=True)
    year = models.PositiveSmallIntegerField()
    offsets = models.JSONField()
    kept_at = models.DateTimeField()

    class Meta:
        ordering = ["kept_at"]

    def __str__(self) -> str:
        return f"{self.tzdata_version} from {self.year}"
