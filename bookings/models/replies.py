"""Answers that calendars send by email, requests to move, and emails that were ignored."""

from django.db import models
from django.db.models import Q

from accounts.models import User
from bookings.models.meetings import Meeting
from bookings.models.places import Booking


class LastAnswer(models.Model):
    """The newest answer of one recipient about one meeting (RFC 5546 section 2.1.5).

    `in_hour` counts their answers in the hour that began at `hour_began`.
    """

    meeting = models.ForeignKey(Meeting, on_delete=models.CASCADE, related_name="+")
    recipient = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    sequence = models.PositiveIntegerField(null=True, blank=True)
    stamp = models.DateTimeField(null=True, blank=True)
    hour_began = models.DateTimeField()
    in_hour = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["meeting", "recipient"], name="last_answer_once")
        ]

    def __str__(self) -> str:
        return f"{self.recipient_id} about {self.meeting_id}"


class MoveRequestQuerySet(models.QuerySet["MoveRequest"]):
    """Requests to move by state."""

    def unanswered(self) -> "MoveRequestQuerySet":
        """Requests that somebody has still to answer."""
        return self.filter(state=MoveRequest.State.OPEN)


class MoveRequest(models.Model):
    """A family asks for another start of a one-on-one.

    `sequence` is the SEQUENCE in a calendar's COUNTER; None where no calendar asked. A request is
    CLOSED when the booking ends, moves or begins before anybody has answered.
    """

    class State(models.TextChoices):
        OPEN = "open"
        ACCEPTED = "accepted"
        REFUSED = "refused"
        PROPOSED = "proposed"
        CLOSED = "closed"

    booking = models.ForeignKey(Booking, on_delete=models.CASCADE, related_name="move_requests")
    asked_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    starts_at = models.DateTimeField()
    sequence = models.PositiveIntegerField(null=True, blank=True)
    asked_at = models.DateTimeField()
    state = models.CharField(max_length=8, choices=State.choices, default=State.OPEN)
    answered_at = models.DateTimeField(null=True, blank=True)

    objects = MoveRequestQuerySet.as_manager()

    class Meta:
        ordering = ["asked_at", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["booking"], condition=Q(state="open"), name="move_request_once"
            ),
            models.CheckConstraint(
                condition=Q(state__in=["open", "accepted", "refused", "proposed", "closed"]),
                name="move_request_state",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.booking} to {self.starts_at:%Y-%m-%d %H:%M} UTC"


class IgnoredMail(models.Model):
    """How many emails were ignored, or not written, on one day (UTC) for one reason.

    Nothing else of them is kept.
    """

    day = models.DateField()
    reason = models.CharField(max_length=20)
    count = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["-day", "reason"]
        constraints = [models.UniqueConstraint(fields=["day", "reason"], name="ignored_mail_once")]

    def __str__(self) -> str:
        return f"{self.day} {self.reason}"
