"""The school's own wording of the consent to live lessons, in versions."""

from django.db import models


class ConsentText(models.Model):
    """One version of the wording. It never changes; the newest is in force.

    Each line is a sentence, with fields for names and hours. A consent names the version that the
    guardian agreed to (Guardianship.consent_wording).
    """

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
