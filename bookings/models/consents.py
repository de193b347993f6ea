"""The school's own words of consent, in versions: which one a guardian agreed to stands with each consent."""

from django.db import models


class ConsentText(models.Model):
    """One version, never changed once published; the newest is in force. One sentence a line, with places for names and hours."""

    version = models.CharField(max_length=20)
    text = models.TextField()
    published_at = models.DateTimeField()

    class Meta:
        ordering = ["-published_at", "-id"]
        constraints = [
            models.UniqueConstraint(fields=["version"], name="consent_text_version_once")
        ]

    def __str__(self) -> str:
        return self.version
