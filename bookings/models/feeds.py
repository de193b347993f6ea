"""Calendar feeds: secret addresses that a person may renew or revoke."""

import uuid

from django.db import models
from django.db.models import Q

from accounts.models import Instructor, User
from bookings.domain.vocabulary import FeedKind
from bookings.models.choices import choices_of
from bookings.models.meetings import Meeting


class FeedQuerySet(models.QuerySet["Feed"]):
    """Feeds by owner and state."""

    def of(self, owner: User) -> "FeedQuerySet":
        """The feeds of this person."""
        return self.filter(owner=owner)

    def not_revoked(self) -> "FeedQuerySet":
        """Feeds whose address still works."""
        return self.filter(revoked_at__isnull=True)


class Feed(models.Model):
    """One subscription. Only the SHA-256 of its secret is stored.

    `revision` rises whenever the feed shows something else, `version` whenever its owner changes
    the feed. A roster has a `meeting`. A free/busy feed has an `instructor`, and `uid` is the UID
    of its one component.
    """

    owner = models.ForeignKey(User, on_delete=models.CASCADE, related_name="feeds")
    label = models.CharField(max_length=60)
    kind = models.CharField(
        max_length=10, choices=choices_of(FeedKind), default=FeedKind.MEETINGS.value
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

    objects = FeedQuerySet.as_manager()

    class Meta:
        ordering = ["id"]
        verbose_name = "calendar address"
        verbose_name_plural = "calendar addresses"
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
