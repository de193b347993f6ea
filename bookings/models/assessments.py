"""Assessments: dated, versioned notes. They are drafts until they are released."""

import uuid

from django.db import models
from django.db.models import Q

from accounts.models import Instructor, Student, User
from accounts.sealed import open_sealed, seal
from bookings.domain.vocabulary import NoteState
from bookings.models.choices import choices_of


class AssessmentQuerySet(models.QuerySet["Assessment"]):
    """Versions of notes by state."""

    def released(self) -> "AssessmentQuerySet":
        """Versions that the student may read."""
        return self.filter(state=NoteState.RELEASED)

    def drafts(self) -> "AssessmentQuerySet":
        """Versions that their author has not released."""
        return self.filter(state=NoteState.DRAFT)


class Assessment(models.Model):
    """One version of one note. All versions of a note share its `lineage`.

    Private remarks are sealed at rest (accounts.sealed).
    """

    lineage = models.UUIDField(default=uuid.uuid4, editable=False)
    version = models.PositiveIntegerField(default=1)
    student = models.ForeignKey(Student, on_delete=models.PROTECT, related_name="assessments")
    author = models.ForeignKey(Instructor, on_delete=models.PROTECT, related_name="assessments")
    state = models.CharField(max_length=8, choices=choices_of(NoteState), default=NoteState.DRAFT)
    heard_on = models.DateField(help_text="The date on the author's clock.")
    level = models.PositiveSmallIntegerField()
    unit = models.PositiveSmallIntegerField()
    bands = models.JSONField(
        default=dict, blank=True, help_text='Technique to a band of 1 to 4, such as {"tone": 3}.'
    )
    strengths = models.TextField(max_length=2000, blank=True)
    obstacle = models.TextField(max_length=2000, blank=True)
    next_step = models.TextField(max_length=2000, blank=True)
    goal = models.TextField(max_length=2000, blank=True)
    practice_plan = models.TextField(max_length=4000, blank=True)
    caution = models.TextField(max_length=1000, blank=True)
    sealed_remarks = models.BinaryField(default=b"", blank=True, editable=False)
    written_at = models.DateTimeField()
    released_at = models.DateTimeField(null=True, blank=True)

    objects = AssessmentQuerySet.as_manager()

    class Meta:
        ordering = ["-released_at", "-id"]
        indexes = [models.Index(fields=["student", "-released_at"], name="assessment_latest")]
        constraints = [
            models.UniqueConstraint(fields=["lineage", "version"], name="assessment_version_once"),
            models.CheckConstraint(
                condition=Q(level__gte=1, level__lte=10), name="assessment_level"
            ),
            models.CheckConstraint(
                condition=Q(state=NoteState.DRAFT, released_at__isnull=True)
                | Q(state=NoteState.RELEASED, released_at__isnull=False),
                name="assessment_release_has_date",
            ),
        ]

    def __str__(self) -> str:
        return f"assessment {self.pk}"

    def _bound_to(self) -> str:
        # Table, row and column: a sealed text that is copied elsewhere does not open there.
        return f"assessment:{self.lineage}:{self.version}:remarks"

    @property
    def private_remarks(self) -> str:
        """The author's working remarks.

        The student does not see them, but they are the student's personal data all the same.
        """
        return open_sealed(bytes(self.sealed_remarks), self._bound_to())

    @private_remarks.setter
    def private_remarks(self, text: str) -> None:
        self.sealed_remarks = seal(text, self._bound_to())


class AssessmentReading(models.Model):
    """Who read which note, when, and in which relation to it. Written before the text is shown."""

    assessment = models.ForeignKey(Assessment, on_delete=models.CASCADE, related_name="readings")
    reader = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    relation = models.CharField(max_length=20)
    reason = models.CharField(max_length=200, blank=True)
    read_at = models.DateTimeField()

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"{self.reader} read {self.assessment}"
