"""Messages to send. A row is written in the transaction of its cause and sent afterwards."""

from datetime import datetime

from django.db import models
from django.db.models import Q

from accounts.models import User
from bookings.models.meetings import Meeting
from bookings.models.webhooks import Webhook


class OutboxQuerySet(models.QuerySet["OutboxMessage"]):
    """Messages by state, reader and kind."""

    def emails(self) -> "OutboxQuerySet":
        """Messages to people."""
        return self.filter(webhook__isnull=True)

    def deliveries(self) -> "OutboxQuerySet":
        """Messages to webhooks."""
        return self.filter(webhook__isnull=False)

    def unsent(self) -> "OutboxQuerySet":
        """Messages that are still to be sent, now or later."""
        return self.filter(state=OutboxMessage.State.DUE)

    def sendable(self) -> "OutboxQuerySet":
        """Unsent emails that do not wait for their address to be reached again."""
        return self.emails().unsent().filter(held_since__isnull=True)

    def held(self) -> "OutboxQuerySet":
        """Unsent messages that wait for their address to be reached again."""
        return self.unsent().filter(held_since__isnull=False)

    def unsent_or_given_up(self) -> "OutboxQuerySet":
        """Messages that have not left: those still to be sent, and those given up."""
        return self.filter(state__in=[OutboxMessage.State.DUE, OutboxMessage.State.GIVEN_UP])

    def given_up(self) -> "OutboxQuerySet":
        """Messages that could not be sent."""
        return self.filter(state=OutboxMessage.State.GIVEN_UP)

    def untried(self, now: datetime) -> "OutboxQuerySet":
        """Unsent messages that are due later and that nobody has tried to send."""
        return self.unsent().filter(attempts=0, leased_until__isnull=True, due_at__gt=now)

    def to(self, reader_id: int) -> "OutboxQuerySet":
        """The messages to this person."""
        return self.filter(recipient=reader_id)


class OutboxMessage(models.Model):
    """An email to one person about one thing in one state. The four together are sent once.

    Or the delivery of an event to a webhook, which then has no recipient: `kind` is the type of the
    event, `message_id` its webhook-id, and `body` the JSON that is signed.

    `subject_key` names the thing ("meeting:17"), `state_key` its state ("sequence:2"). `sequence`
    is the SEQUENCE of the calendar part. After `good_until` the message is of no use and never
    leaves. The body is erased EMAIL_TEXT_DAYS after sending. Once an attempt has failed,
    `waits_since` is when the message first was due and `due_at` is the next attempt. A message to
    an address that cannot be reached is held since `held_since`. A mail server reported at
    `returned_at` that this message did not arrive, or was not wanted; a second report about it is
    ignored. `last_error` holds the kind of error and its codes, but never a mail server's words,
    because they quote the email.
    """

    class State(models.TextChoices):
        DUE = "due"
        SENT = "sent"
        SUPERSEDED = "superseded"
        GIVEN_UP = "given-up"

    recipient = models.ForeignKey(
        User, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    webhook = models.ForeignKey(
        Webhook, null=True, blank=True, on_delete=models.CASCADE, related_name="deliveries"
    )
    kind = models.CharField(max_length=40)
    subject_key = models.CharField(max_length=80)
    state_key = models.CharField(max_length=80)
    meeting = models.ForeignKey(
        Meeting, null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )
    sequence = models.PositiveIntegerField(null=True, blank=True)
    to_address = models.EmailField(blank=True)
    title = models.CharField(max_length=200)
    body = models.TextField()
    calendar = models.TextField(blank=True)
    method = models.CharField(
        max_length=14,
        blank=True,
        help_text="RFC 5546: REQUEST, CANCEL, DECLINECOUNTER; empty without a calendar part.",
    )
    message_id = models.CharField(max_length=250)
    made_at = models.DateTimeField()
    due_at = models.DateTimeField()
    good_until = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=10, choices=State.choices, default=State.DUE)
    attempts = models.PositiveIntegerField(default=0)
    leased_until = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    waits_since = models.DateTimeField(null=True, blank=True)
    held_since = models.DateTimeField(null=True, blank=True)
    returned_at = models.DateTimeField(null=True, blank=True)
    last_error = models.CharField(max_length=80, blank=True)

    objects = OutboxQuerySet.as_manager()

    class Meta:
        ordering = ["due_at", "id"]
        indexes = [
            models.Index(fields=["state", "due_at"], condition=Q(state="due"), name="outbox_due"),
            models.Index(
                fields=["waits_since"],
                condition=Q(state="due", waits_since__isnull=False),
                name="outbox_waits",
            ),
            models.Index(fields=["due_at"], condition=Q(state="given-up"), name="outbox_given_up"),
            models.Index(
                fields=["to_address"],
                condition=Q(state="due", held_since__isnull=False),
                name="outbox_held",
            ),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["recipient", "kind", "subject_key", "state_key"],
                name="outbox_once_per_state",
            ),
            models.UniqueConstraint(fields=["webhook", "message_id"], name="outbox_once_per_event"),
            models.CheckConstraint(
                condition=Q(recipient__isnull=False, webhook__isnull=True)
                | Q(recipient__isnull=True, webhook__isnull=False),
                name="outbox_has_one_reader",
            ),
            models.CheckConstraint(
                condition=Q(state__in=["due", "sent", "superseded", "given-up"]),
                name="outbox_state",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.subject_key} {self.state_key}"

    @property
    def reader(self) -> User:
        """Whom an email is to."""
        if self.recipient is None:
            raise ValueError("a delivery to a webhook has no reader")
        return self.recipient

    @property
    def hook(self) -> Webhook:
        """Where a delivery goes."""
        if self.webhook is None:
            raise ValueError("an email goes to no webhook")
        return self.webhook

    @property
    def reader_id(self) -> int:
        """The id of whom an email is to."""
        if self.recipient_id is None:
            raise ValueError("a delivery to a webhook has no reader")
        return self.recipient_id


class SentSequence(models.Model):
    """The last SEQUENCE that a recipient was sent for a meeting.

    It outlives their removal from the meeting. The next SEQUENCE is higher (RFC 5546 section
    2.1.4).
    """

    meeting = models.ForeignKey(Meeting, on_delete=models.CASCADE, related_name="sent_sequences")
    recipient = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    sequence = models.PositiveIntegerField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["meeting", "recipient"], name="sent_sequence_once")
        ]

    def __str__(self) -> str:
        return f"{self.meeting_id} to {self.recipient_id}: {self.sequence}"
