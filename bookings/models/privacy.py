"""What is asked about a person's own data: its erasure, or everything that is stored of them."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from accounts.models import Student
from bookings.domain.vocabulary import PrivacyEnded, PrivacyKind
from bookings.models.choices import choices_of, values_of


class PrivacyRequestQuerySet(models.QuerySet["PrivacyRequest"]):
    """Requests by state and kind."""

    def open(self) -> "PrivacyRequestQuerySet":
        """Requests that are neither done nor taken back."""
        return self.filter(ended_at__isnull=True)

    def erasures(self) -> "PrivacyRequestQuerySet":
        """Requests to erase somebody."""
        return self.filter(kind=PrivacyKind.ERASURE)


class PrivacyRequest(models.Model):
    """A request about one student's data. An admin approves it; until it is done it can be taken
    back.

    It holds ids and instants only, so it stays after an erasure and proves it.
    """

    kind = models.CharField(max_length=7, choices=choices_of(PrivacyKind))
    student = models.ForeignKey(Student, on_delete=models.PROTECT, related_name="privacy_requests")
    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    asked_at = models.DateTimeField()
    approved_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    approved_at = models.DateTimeField(null=True, blank=True)
    # Whether the student learnt here when it was asked for: taking it back brings them back.
    was_here = models.BooleanField(default=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_how = models.CharField(max_length=10, choices=choices_of(PrivacyEnded), blank=True)

    objects = PrivacyRequestQuerySet.as_manager()

    class Meta:
        ordering = ["-asked_at", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["student", "kind"],
                condition=Q(ended_at__isnull=True),
                name="privacy_request_once",
            ),
            models.CheckConstraint(
                condition=Q(kind__in=values_of(PrivacyKind)), name="privacy_request_kind"
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True, ended_how="")
                | Q(ended_at__isnull=False, ended_how__in=values_of(PrivacyEnded)),
                name="privacy_request_end_says_how",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} of student {self.student_id}"
