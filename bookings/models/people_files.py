"""Files of people that an admin has uploaded and not yet brought in."""

import uuid
from datetime import datetime, timedelta

from django.db import models

from accounts.models import User
from accounts.sealed import open_sealed, seal

STAYS = timedelta(hours=1)
"""How long a file waits to be brought in. After that it is deleted."""


class PeopleFileQuerySet(models.QuerySet["PeopleFile"]):
    """Files by age."""

    def waiting(self, now: datetime) -> "PeopleFileQuerySet":
        """Files that can still be brought in."""
        return self.filter(kept_at__gt=now - STAYS)

    def old(self, now: datetime) -> "PeopleFileQuerySet":
        """Files whose hour is over."""
        return self.filter(kept_at__lte=now - STAYS)


class PeopleFile(models.Model):
    """The text of a file, sealed at rest (accounts.sealed), for the admin who uploaded it alone.

    It is deleted once it is brought in, with the next upload, and after an hour.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    kept_by = models.ForeignKey(User, on_delete=models.CASCADE, related_name="people_files")
    kept_at = models.DateTimeField()
    encoding = models.CharField(max_length=20, help_text="How the file was read.")
    sealed_text = models.BinaryField(editable=False)

    objects = PeopleFileQuerySet.as_manager()

    class Meta:
        ordering = ["-kept_at"]

    def __str__(self) -> str:
        return f"A file of {self.kept_at:%Y-%m-%d %H:%M}"

    @property
    def text(self) -> str:
        """The text of the file."""
        return open_sealed(bytes(self.sealed_text), self.bound_to())

    @text.setter
    def text(self, text: str) -> None:
        self.sealed_text = seal(text, self.bound_to())

    def bound_to(self) -> str:
        """What the sealed text is bound to."""
        return f"people-file:{self.pk}"
