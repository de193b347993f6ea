"""Lessons that the school owes."""

from datetime import date

from django.db import models
from django.db.models import Exists, OuterRef, Q

from accounts.models import Student
from bookings.domain.vocabulary import OwedCause, OwedClosed
from bookings.models.choices import choices_of, values_of
from bookings.models.offerings import Offering
from bookings.models.places import Booking
from bookings.models.terms import Term, WeeklyPlace

LONGEST_REASON = 200
_OF_A_BOOKING = [
    cause.value
    for cause in OwedCause
    if cause not in (OwedCause.CARRIED_IN, OwedCause.PLACE_CHANGED)
]


class OwedLessonQuerySet(models.QuerySet["OwedLesson"]):
    """Owed lessons by state and student."""

    def still_owed(self) -> "OwedLessonQuerySet":
        """Neither closed nor settled by a make-up."""
        # Joined, SQLite would index all bookings anew for each such query.
        make_up = Booking.objects.order_by().filter(makes_up=OuterRef("pk"))
        return self.filter(~Exists(make_up), closed_at__isnull=True)

    def no_longer_owed(self) -> "OwedLessonQuerySet":
        """Closed, or settled by a make-up."""
        still = OwedLesson.objects.order_by().still_owed().values("pk")
        return self.exclude(pk__in=still)

    def unreminded(self) -> "OwedLessonQuerySet":
        """Still owed, and nobody has told the family that the use-by date is near."""
        return self.still_owed().filter(reminded_at__isnull=True)

    def of(self, student: Student | int) -> "OwedLessonQuerySet":
        """Those of this student, who may be given by id."""
        return self.filter(student=student)

    def used_of_limits(self) -> "OwedLessonQuerySet":
        """Those that count against what a family may make up in their term.

        A make-up that is cancelled in time is the same lesson again, and counts no second time.
        """
        familys = [cause.value for cause in OwedCause if cause.is_the_familys]
        return self.filter(cause__in=familys, booking__makes_up__isnull=True)

    def with_details(self) -> "OwedLessonQuerySet":
        """Each with its student, offering, term and booking, in the same query."""
        return self.select_related(
            "student__user", "offering", "term", "booking__meeting__offering", "booking__policy"
        )


class OwedLesson(models.Model):
    """One lesson that the school owes a student, until a make-up settles it or it is closed.

    It is a link of the chain of one promised lesson: a booking, what is owed for it, the make-up,
    what is owed for that. Without a `booking`, either the `weekly_place` had no date for a promised
    lesson, or an admin carried it in. `use_by` is the last date on which its make-up may begin, on
    the student's clock. `term` is the one whose account counts it; none outside a term.
    """

    booking = models.ForeignKey(
        Booking,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        db_index=False,  # owed_lesson_once is one
        related_name="owed",
    )
    weekly_place = models.ForeignKey(
        WeeklyPlace, null=True, blank=True, on_delete=models.PROTECT, related_name="owed"
    )
    student = models.ForeignKey(Student, on_delete=models.PROTECT, related_name="owed_lessons")
    term = models.ForeignKey(
        Term, null=True, blank=True, on_delete=models.PROTECT, related_name="owed_lessons"
    )
    offering = models.ForeignKey(Offering, on_delete=models.PROTECT, related_name="owed_lessons")
    minutes = models.PositiveSmallIntegerField()
    cause = models.CharField(max_length=20, choices=choices_of(OwedCause))
    reason = models.CharField(
        max_length=LONGEST_REASON,
        blank=True,
        help_text="Why an admin carried it in, extended or closed it. The family reads it.",
    )
    use_by = models.DateField()
    owed_at = models.DateTimeField()
    carried_from = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="carried_to"
    )
    closed_at = models.DateTimeField(null=True, blank=True)
    reminded_at = models.DateTimeField(
        null=True, blank=True, help_text="When the family was told that its use-by date is near."
    )
    closed_how = models.CharField(max_length=12, choices=choices_of(OwedClosed), blank=True)
    version = models.PositiveIntegerField(default=1)

    objects = OwedLessonQuerySet.as_manager()

    class Meta:
        ordering = ["use_by", "id"]
        indexes = [models.Index(fields=["student", "term"], name="owed_lesson_student_term")]
        constraints = [
            models.UniqueConstraint(fields=["booking"], name="owed_lesson_once"),
            models.CheckConstraint(
                condition=Q(
                    booking__isnull=False, weekly_place__isnull=True, cause__in=_OF_A_BOOKING
                )
                | Q(
                    booking__isnull=True,
                    weekly_place__isnull=False,
                    cause=OwedCause.PLACE_CHANGED,
                )
                | (
                    Q(
                        booking__isnull=True,
                        weekly_place__isnull=True,
                        term__isnull=False,
                        cause=OwedCause.CARRIED_IN,
                    )
                    & ~Q(reason="")
                ),
                name="owed_lesson_root",
            ),
            models.CheckConstraint(
                condition=Q(carried_from__isnull=True) | Q(cause=OwedCause.CARRIED_IN),
                name="owed_lesson_carried",
            ),
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True, closed_how="")
                | Q(closed_at__isnull=False, closed_how__in=values_of(OwedClosed)),
                name="owed_lesson_closed_says_how",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.offering} owed to {self.student}, use by {self.use_by}"

    @property
    def is_closed(self) -> bool:
        """Whether it lapsed, was settled by hand or carried out. A make-up does not close it."""
        return self.closed_at is not None

    @property
    def counts_in_limit(self) -> bool:
        """As `OwedLessonQuerySet.used_of_limits` says."""
        booking = self.booking
        is_first = booking is not None and booking.makes_up_id is None
        return is_first and OwedCause(self.cause).is_the_familys

    is_made_up: bool
    """Not a column: `queries.owed` annotates it."""

    def is_over_on(self, on: date) -> bool:
        """Whether its use-by date has passed on this date of the student's clock."""
        return on > self.use_by
