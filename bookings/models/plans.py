"""Plans: stored proposals of the solver, compared beside each other, adopted whole or discarded."""

from datetime import datetime

from django.conf import settings
from django.db import models
from django.db.models import Q

from accounts.models import Instructor, Student
from bookings.domain.planning.model import TOLERANCE
from bookings.domain.vocabulary import PlanKind, PlanState
from bookings.models.choices import choices_of, values_of
from bookings.models.terms import Term

ANSWERED = (PlanState.READY, PlanState.STOPPED)
OVER = (PlanState.ADOPTED, PlanState.DISCARDED)


class PlanQuerySet(models.QuerySet["Plan"]):
    """Plans by state."""

    def to_solve(self, now: datetime) -> "PlanQuerySet":
        """Plans that no worker holds at that time, the oldest first."""
        free = Q(leased_until__isnull=True) | Q(leased_until__lte=now)
        return self.filter(free, state=PlanState.SOLVING).order_by("pk")

    def asking(self) -> "PlanQuerySet":
        """Plans whose families are asked for their hours, until they are adopted or discarded."""
        return self.filter(answer_by__isnull=False).exclude(state__in=OVER)

    def to_close(self, now: datetime) -> "PlanQuerySet":
        """Plans whose answers have closed, and that nobody has asked for again since."""
        return self.asking().filter(answer_by__lte=now, closed_at__isnull=True).order_by("pk")


class Plan(models.Model):
    """What was asked, what the solver answered, and what became of it.

    `asked` and `answer` are plain values in the form of the plan's kind (operations/planning), and
    `seen` holds the version of each thing that was read, by name. `instructor` is whose plan it is;
    None for the school's own.

    `progress` is what the solver last said of itself. A worker holds the plan until `leased_until`,
    and `attempts` counts the workers that took it up. `gap` is how far the answer may be from the
    best: 0 when it is proven, None when nobody knows.

    Until `answer_by` the families of a group say which hours they can come (AskedHours). The plan
    has been asked for again by what they had said then at `closed_at`.
    """

    kind = models.CharField(max_length=10, choices=choices_of(PlanKind))
    state = models.CharField(
        max_length=10, choices=choices_of(PlanState), default=PlanState.SOLVING
    )
    instructor = models.ForeignKey(
        Instructor, null=True, blank=True, on_delete=models.PROTECT, related_name="plans"
    )
    asked = models.JSONField()
    seen = models.JSONField(default=dict, blank=True)
    answer = models.JSONField(null=True, blank=True)
    progress = models.JSONField(default=dict, blank=True)
    gap = models.FloatField(null=True, blank=True)
    failure = models.CharField(max_length=300, blank=True)
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    made_at = models.DateTimeField()
    answer_by = models.DateTimeField(null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    stop_asked_at = models.DateTimeField(null=True, blank=True)
    leased_until = models.DateTimeField(null=True, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    solved_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    version = models.PositiveIntegerField(default=1)

    objects = PlanQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "-id"]
        indexes = [
            models.Index(
                fields=["leased_until"],
                name="plan_to_solve",
                condition=Q(state=PlanState.SOLVING.value),
            )
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(state__in=values_of(PlanState)), name="plan_state_word"
            ),
            models.CheckConstraint(
                condition=~Q(state__in=[*ANSWERED, PlanState.ADOPTED])
                | Q(answer__isnull=False, solved_at__isnull=False),
                name="plan_answered_says_what",
            ),
            models.CheckConstraint(
                condition=Q(state__in=OVER, ended_at__isnull=False)
                | (~Q(state__in=OVER) & Q(ended_at__isnull=True)),
                name="plan_over_says_when",
            ),
            models.CheckConstraint(
                condition=Q(answer_by__isnull=True, closed_at__isnull=True)
                | Q(answer_by__isnull=False, kind=PlanKind.GROUP),
                name="plan_asks_a_group",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} plan {self.pk}"

    @property
    def is_answered(self) -> bool:
        """Whether there is an answer to adopt."""
        return self.state in ANSWERED

    @property
    def is_open(self) -> bool:
        """Whether families may still answer, or the plan is not yet solved by their answers."""
        return self.answer_by is not None and self.closed_at is None and self.state not in OVER

    @property
    def is_proven(self) -> bool:
        """Whether no better answer exists for what was read."""
        return self.gap is not None and self.gap <= TOLERANCE


class AskedHours(models.Model):
    """A student of a group whose plan asks which hours they can come by a date.

    `said` is what the plan reads: what stood when it asked, and what the family has said since and
    in time (queries/planning/asked_hours.py). `answered_at` is None until the family says it.
    """

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="asked_hours")
    student = models.ForeignKey(Student, on_delete=models.PROTECT, related_name="asked_hours")
    said = models.JSONField(default=dict)
    answered_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["plan", "student"]
        verbose_name_plural = "asked hours"
        constraints = [models.UniqueConstraint(fields=["plan", "student"], name="asked_hours_once")]

    def __str__(self) -> str:
        return f"{self.student}, {self.plan}"


class CarriedBurden(models.Model):
    """What group meetings cost a student in one term: the sum of the burdens of their held places.

    Half of it is carried into each later term (domain/carried.py).
    """

    student = models.ForeignKey(Student, on_delete=models.PROTECT, related_name="carried_burdens")
    term = models.ForeignKey(Term, on_delete=models.PROTECT, related_name="carried_burdens")
    burden = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["term__first_on", "id"]
        constraints = [
            models.UniqueConstraint(fields=["student", "term"], name="carried_once_a_term")
        ]

    def __str__(self) -> str:
        return f"{self.student}, {self.term}: {self.burden}"
