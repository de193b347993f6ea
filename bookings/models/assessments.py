"""Assessments: dated, versioned notes. They are drafts until they are released."""

import uuid

from django.db import models
from django.db.models import Q

from accounts.models import Instructor, Student, User
from accounts.sealed import open_sealed, seal
from bookings.domain.vocabulary import GoalOutcome, NoteForm, NoteState
from bookings.models.choices import choices_of, values_of
from bookings.models.meetings import Meeting


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

    form = models.CharField(
        max_length=11, choices=choices_of(NoteForm), default=NoteForm.ASSESSMENT
    )
    lineage = models.UUIDField(default=uuid.uuid4, editable=False)
    version = models.PositiveIntegerField(default=1)
    student = models.ForeignKey(Student, on_delete=models.PROTECT, related_name="assessments")
    author = models.ForeignKey(Instructor, on_delete=models.PROTECT, related_name="assessments")
    meeting = models.ForeignKey(
        Meeting,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="assessments",
        help_text="The meeting it was heard in; empty for one written apart from any.",
    )
    state = models.CharField(max_length=8, choices=choices_of(NoteState), default=NoteState.DRAFT)
    heard_on = models.DateField(help_text="The date on the author's clock.")
    level = models.PositiveSmallIntegerField()
    unit = models.PositiveSmallIntegerField()
    bands = models.JSONField(
        default=dict, blank=True, help_text='Technique to a band of 1 to 4, such as {"tone": 3}.'
    )
    heard = models.JSONField(
        default=list, blank=True, help_text="Pieces and drills heard: a list of short texts."
    )
    strengths = models.TextField(max_length=2000, blank=True)
    obstacle = models.TextField(max_length=2000, blank=True)
    next_steps = models.JSONField(
        default=list, blank=True, help_text="Up to three, the first one first: short texts."
    )
    last_goal = models.CharField(
        max_length=7,
        choices=choices_of(GoalOutcome),
        blank=True,
        help_text="What became of the goal of the student's note before.",
    )
    goal = models.TextField(max_length=2000, blank=True)
    goal_on = models.DateField(null=True, blank=True, help_text="By when the goal is to be met.")
    practice = models.JSONField(
        default=list,
        blank=True,
        help_text='Items in order, such as {"what": "Scales", "minutes": 5, "is_review": false}; '
        "minutes a day.",
    )
    follow_up_weeks = models.PositiveSmallIntegerField(null=True, blank=True)
    follow_up_on = models.DateField(
        null=True, blank=True, help_text="`heard_on` and the weeks of the follow-up."
    )
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
            models.CheckConstraint(condition=Q(form__in=values_of(NoteForm)), name="note_form"),
            models.CheckConstraint(
                condition=Q(last_goal="") | Q(last_goal__in=values_of(GoalOutcome)),
                name="note_last_goal",
            ),
            models.CheckConstraint(
                condition=Q(follow_up_weeks__isnull=True, follow_up_on__isnull=True)
                | Q(follow_up_weeks__gte=2, follow_up_weeks__lte=6, follow_up_on__isnull=False),
                name="note_follow_up",
            ),
        ]

    def __str__(self) -> str:
        return f"assessment {self.pk}"

    def bound_to(self) -> str:
        """Table, row and column: a sealed text that is copied elsewhere does not open there."""
        return f"assessment:{self.lineage}:{self.version}:remarks"

    @property
    def private_remarks(self) -> str:
        """The author's working remarks.

        The student does not see them, but they are the student's personal data all the same.
        """
        return open_sealed(bytes(self.sealed_remarks), self.bound_to())

    @private_remarks.setter
    def private_remarks(self, text: str) -> None:
        self.sealed_remarks = seal(text, self.bound_to())


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


class PracticeTick(models.Model):
    """On this date the student practised this item of the note's plan.

    `item` is the item's place in `Assessment.practice`, 0 for the first. A released note never
    changes, so the number always means the same item. `on` is a date on the student's clock.
    """

    assessment = models.ForeignKey(Assessment, on_delete=models.CASCADE, related_name="ticks")
    item = models.PositiveSmallIntegerField()
    on = models.DateField()
    ticked_by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    ticked_at = models.DateTimeField()

    class Meta:
        ordering = ["on", "item"]
        constraints = [
            models.UniqueConstraint(fields=["assessment", "item", "on"], name="practice_tick_once")
        ]

    def __str__(self) -> str:
        return f"item {self.item} of {self.assessment} on {self.on}"
