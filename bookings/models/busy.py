"""Busy time from other calendars. Only times are kept: no name, place or text of an entry."""

import uuid

from django.db import models
from django.db.models import F, Q

from accounts.models import Student, User
from accounts.sealed import open_sealed, seal


class BusyCalendar(models.Model):
    """One calendar of one person: an address that is fetched regularly, or an uploaded file.

    It belongs to an account (`owner`) or, for a child without an account, to a student. The address
    is a secret of another service: it is sealed, and only its host is shown. `problem` is the code
    of the last fetch's refusal; it is empty after a good fetch.
    """

    owner = models.ForeignKey(
        User, null=True, blank=True, on_delete=models.CASCADE, related_name="busy_calendars"
    )
    student = models.ForeignKey(
        Student, null=True, blank=True, on_delete=models.CASCADE, related_name="busy_calendars"
    )
    key = models.UUIDField(
        default=uuid.uuid4, editable=False, help_text="What the sealed address is bound to."
    )
    name = models.CharField(max_length=60)
    host = models.CharField(max_length=253, blank=True)
    sealed_address = models.BinaryField(default=b"", blank=True, editable=False)
    digest = models.CharField(max_length=64, blank=True, help_text="SHA-256 of the last good copy.")
    etag = models.CharField(max_length=500, blank=True)
    last_modified = models.CharField(max_length=500, blank=True)
    time_zone = models.CharField(
        max_length=60, blank=True, help_text="The owner's clock when it was read."
    )
    unknown_zones = models.PositiveIntegerField(default=0)
    notes = models.JSONField(
        default=list, blank=True, help_text="Phrases of ours for the faults that were forgiven."
    )
    problem = models.CharField(max_length=40, blank=True)
    problem_words = models.CharField(max_length=300, blank=True)
    failures = models.PositiveSmallIntegerField(default=0)
    added_at = models.DateTimeField()
    tried_at = models.DateTimeField(null=True, blank=True)
    fetched_at = models.DateTimeField(
        null=True, blank=True, help_text="When the last good copy was seen to be good."
    )
    covers_until = models.DateTimeField(
        null=True, blank=True, help_text="How far ahead the periods were worked out."
    )
    next_at = models.DateTimeField(
        null=True, blank=True, db_index=True, help_text="When it is fetched next; empty for a file."
    )
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(owner__isnull=False, student__isnull=True)
                | Q(owner__isnull=True, student__isnull=False),
                name="busy_calendar_is_somebodys",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def address(self) -> str:
        """The address in full; empty for a file."""
        return open_sealed(bytes(self.sealed_address), self.bound_to())

    @address.setter
    def address(self, text: str) -> None:
        self.sealed_address = seal(text, self.bound_to())

    @property
    def clock(self) -> str:
        """The IANA name of the owner's zone. Dates and floating times are read in it."""
        if self.owner is not None:
            return self.owner.zone
        return self.student.zone if self.student is not None else "UTC"

    @property
    def is_file(self) -> bool:
        """Whether this is an uploaded file, which is never fetched."""
        return not self.host

    def bound_to(self) -> str:
        """What the sealed address is bound to."""
        return f"busycalendar:{self.key}:address"


class BusyPeriod(models.Model):
    """A stretch of busy time on whole 5 minutes. Stretches of one calendar never touch."""

    calendar = models.ForeignKey(
        BusyCalendar, on_delete=models.CASCADE, related_name="periods", db_index=False
    )
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()

    class Meta:
        ordering = ["starts_at"]
        indexes = [models.Index(fields=["calendar", "starts_at"], name="busy_period_by_start")]
        constraints = [
            models.CheckConstraint(
                condition=Q(ends_at__gt=F("starts_at")), name="busy_period_has_length"
            )
        ]

    def __str__(self) -> str:
        return f"{self.starts_at:%Y-%m-%d %H:%M} to {self.ends_at:%H:%M}"
