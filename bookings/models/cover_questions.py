"""Questions to substitutes: whether they take a lesson outside their hours or beyond their load."""

from django.db import models
from django.db.models import Q

from accounts.models import Instructor
from bookings.models.meetings import Meeting
from bookings.models.plans import Plan


class CoverQuestionQuerySet(models.QuerySet["CoverQuestion"]):
    """Questions by state."""

    def unanswered(self) -> "CoverQuestionQuerySet":
        """Questions that the substitute has still to answer."""
        return self.filter(answered_at__isnull=True)

    def answered(self) -> "CoverQuestionQuerySet":
        """Questions with a yes or a no."""
        return self.filter(answered_at__isnull=False)


class CoverQuestion(models.Model):
    """A substitute is asked to take a lesson that starts at `starts_at`.

    `plan` is the one that asked last. The answer holds for the lesson at that time in any plan;
    `says_yes` is None until the substitute has answered, which nobody does for them.
    """

    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="questions")
    meeting = models.ForeignKey(Meeting, on_delete=models.PROTECT, related_name="+")
    instructor = models.ForeignKey(
        Instructor, on_delete=models.PROTECT, related_name="cover_questions"
    )
    starts_at = models.DateTimeField()
    asked_at = models.DateTimeField()
    says_yes = models.BooleanField(null=True, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)

    objects = CoverQuestionQuerySet.as_manager()

    class Meta:
        ordering = ["starts_at", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["meeting", "instructor", "starts_at"], name="cover_question_once"
            ),
            models.CheckConstraint(
                condition=Q(says_yes__isnull=True, answered_at__isnull=True)
                | Q(says_yes__isnull=False, answered_at__isnull=False),
                name="cover_question_says_when",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.instructor}: {self.meeting}"
