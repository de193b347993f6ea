"""Calendar subscriptions: a secret address a person may renew or revoke."""

import uuid

from django.db import models
from django.db.models import Q

from accounts.models import Instructor, User
from bookings.domain.vocabulary import FeedKind
from bookings.models.meetings import Meeting


class Feed(models.Model):
    """One subscription. Only the SHA-256 of the secret is stored; `revision` rises with every change of what it shows.

    `version` rises when its owner changes it, and not when a calendar reads it. A roster names its meeting and a free/busy feed
    its instructor; `uid` is that of the one component which the latter holds.
    """

    owner = models.ForeignKey(User, on_delete=models.CASCADE, related_name="feeds")
    label = models.CharField(max_length=60)
    kind = models.CharField(
        max_length=10,
        choices=[(kind.value, kind.value) for kind in FeedKind],
        default=FeedKind.MEETINGS.value,
    )
    meeting = models.ForeignKey(
        Meeting, null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )
    instructor = models.ForeignKey(
        Instructor, null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )
    names_children = models.BooleanField(
        default=False, help_text="A guardian asked for their children's first names."
    )
    uid = models.UUIDField(default=uuid.uuid4, editable=False)
    secret_digest = models.CharField(max_length=64, unique=True)
    revision = models.PositiveBigIntegerField(default=1)
    revised_at = models.DateTimeField()
    opened_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)
    fetched_at = models.DateTimeField(
        null=True, blank=True, help_text="When a calendar last asked, to the hour."
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind=FeedKind.MEETINGS.value, meeting=None, instructor=None)
                | Q(kind=FeedKind.ROSTER.value, meeting__isnull=False, instructor=None)
                | Q(kind=FeedKind.FREE_BUSY.value, meeting=None, instructor__isnull=False),
                name="feed_shows_one_thing",
            )
        ]

    def __str__(self) -> str:
        return f"{self.label} of {self.owner}"
