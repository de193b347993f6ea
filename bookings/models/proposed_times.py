"""Proposed times: up to three starts that an instructor holds for a student."""

from datetime import datetime

from django.conf import settings
from django.db import models
from django.db.models import Q

from accounts.models import Instructor, Student
from bookings.domain.vocabulary import Ended
from bookings.models.choices import choices_of, values_of
from bookings.models.offerings import Offering


class ProposedTimesQuerySet(models.QuerySet["ProposedTimes"]):
    """Proposals by state."""

    def unanswered(self) -> "ProposedTimesQuerySet":
        """Proposals that nobody has answered and that have not lapsed."""
        return self.filter(ended_at__isnull=True)

    def lapsed_by(self, now: datetime) -> "ProposedTimesQuerySet":
        """Unanswered proposals whose time to answer is over."""
        return self.unanswered().filter(answer_by__lte=now)


class ProposedTimes(models.Model):
    """One proposal to a student.

    Each start of it is a TENTATIVE meeting with an OFFERED booking, so the guards of meetings hold
    the instructor's time. A proposal that answers a request to move names that request; taking one
    of its times then moves the lesson.
    """

    student = models.ForeignKey(Student, on_delete=models.PROTECT, related_name="proposed_times")
    offering = models.ForeignKey(Offering, on_delete=models.PROTECT, related_name="+")
    instructor = models.ForeignKey(
        Instructor, on_delete=models.PROTECT, related_name="proposed_times"
    )
    move_request = models.OneToOneField(
        "bookings.MoveRequest",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="proposal",
    )
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    made_at = models.DateTimeField()
    answer_by = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_why = models.CharField(max_length=20, choices=choices_of(Ended), blank=True)
    version = models.PositiveIntegerField(default=1)

    objects = ProposedTimesQuerySet.as_manager()

    class Meta:
        ordering = ["answer_by", "id"]
        verbose_name_plural = "proposed times"
        indexes = [models.Index(fields=["student", "ended_at"], name="proposed_times_student")]
        constraints = [
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True, ended_why="")
                | (Q(ended_at__isnull=False) & Q(ended_why__in=values_of(Ended))),
                name="proposed_times_end_says_why",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.offering} for {self.student}"
