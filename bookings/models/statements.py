"""Statements of hours: issued once, never changed, corrected by counter-lines."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from accounts.models import Instructor
from bookings.domain.statements import Line, MeetingOutcome
from bookings.domain.vocabulary import Kind
from bookings.models.choices import choices_of, values_of
from bookings.models.meetings import Meeting


class StatementQuerySet(models.QuerySet["Statement"]):
    """Statements by instructor."""

    def of(self, instructor: Instructor | int) -> "StatementQuerySet":
        """The statements of this instructor, who may be given by id."""
        return self.filter(instructor=instructor)


class Statement(models.Model):
    """An instructor's meetings of some dates. A meeting belongs to the date of its promised wall
    time, so that no change of zones moves it from one statement into another.

    `issued_by` has no constraint: a row that never changes cannot forget an account.
    """

    instructor = models.ForeignKey(Instructor, on_delete=models.PROTECT, related_name="statements")
    first_on = models.DateField()
    last_on = models.DateField(help_text="The last date that belongs to the statement.")
    issued_at = models.DateTimeField()
    issued_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        on_delete=models.DO_NOTHING,
        related_name="+",
        db_constraint=False,
    )

    total_minutes: int
    corrections_made: int
    """Not columns: `queries.statements` annotates them."""

    objects = StatementQuerySet.as_manager()

    class Meta:
        ordering = ["-first_on", "-id"]
        verbose_name = "statement of hours"
        verbose_name_plural = "statements of hours"
        constraints = [
            models.CheckConstraint(
                condition=Q(first_on__lte=F("last_on")), name="statement_period_order"
            )
        ]

    def __str__(self) -> str:
        return f"{self.instructor}, {self.first_on} to {self.last_on}"


class StatementCorrection(models.Model):
    """One act that brought a statement up to date; its lines have its number, from 1."""

    statement = models.ForeignKey(Statement, on_delete=models.PROTECT, related_name="corrections")
    number = models.PositiveSmallIntegerField()
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        null=True,
        on_delete=models.DO_NOTHING,
        related_name="+",
        db_constraint=False,
    )

    class Meta:
        ordering = ["statement", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["statement", "number"], name="statement_correction_once"
            ),
            models.CheckConstraint(
                condition=Q(number__gte=1), name="statement_correction_counts_from_one"
            ),
        ]

    def __str__(self) -> str:
        return f"correction {self.number} of {self.statement}"


class StatementLine(models.Model):
    """One line of a statement, as `domain.statements` reckoned it.

    `correction` is 0 for a line of the statement as it was issued. `total_minutes` is the running
    total.
    """

    statement = models.ForeignKey(Statement, on_delete=models.PROTECT, related_name="lines")
    position = models.PositiveIntegerField()
    correction = models.PositiveSmallIntegerField(default=0)
    is_counter = models.BooleanField(default=False)
    meeting = models.ForeignKey(Meeting, on_delete=models.PROTECT, related_name="+")
    starts_at = models.DateTimeField()
    wall_on = models.DateField()
    time_zone = models.CharField(max_length=63)
    kind = models.CharField(max_length=14, choices=choices_of(Kind))
    booked_minutes = models.PositiveSmallIntegerField()
    outcome = models.CharField(max_length=20, choices=choices_of(MeetingOutcome))
    counted_minutes = models.SmallIntegerField()
    total_minutes = models.IntegerField()

    class Meta:
        ordering = ["statement", "position"]
        constraints = [
            models.UniqueConstraint(fields=["statement", "position"], name="statement_line_order"),
            models.UniqueConstraint(
                fields=["statement", "correction", "meeting", "is_counter"],
                name="statement_line_once",
            ),
            models.CheckConstraint(
                condition=Q(kind__in=values_of(Kind)), name="statement_line_kind"
            ),
            models.CheckConstraint(
                condition=Q(outcome__in=values_of(MeetingOutcome))
                & ~Q(outcome=MeetingOutcome.REGISTER_OPEN.value),
                name="statement_line_outcome",
            ),
            models.CheckConstraint(
                condition=Q(counted_minutes=0)
                | Q(is_counter=False, counted_minutes=F("booked_minutes"))
                | Q(is_counter=True, counted_minutes=0 - F("booked_minutes")),
                name="statement_line_counts_whole",
            ),
        ]

    def __str__(self) -> str:
        return f"line {self.position} of {self.statement}"

    @property
    def as_line(self) -> Line:
        """The line in the words of the domain."""
        return Line(
            meeting_id=self.meeting_id,
            starts_at=self.starts_at,
            wall_on=self.wall_on,
            time_zone=self.time_zone,
            kind=Kind(self.kind),
            booked_minutes=self.booked_minutes,
            outcome=MeetingOutcome(self.outcome),
            counted_minutes=self.counted_minutes,
            is_counter=self.is_counter,
        )

    @property
    def counts(self) -> bool:
        """Whether the meeting counts, by this line."""
        return self.as_line.counts

    @property
    def why(self) -> str:
        """Why it counts or does not, in a sentence."""
        return self.as_line.why
