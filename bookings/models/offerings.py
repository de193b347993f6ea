"""What can be booked, who teaches it, and the rules in force."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from accounts.models import Instructor
from bookings.domain.policy import Policy
from bookings.domain.vocabulary import Grid, Kind
from bookings.models.choices import choices_of, values_of


class StudioPolicy(models.Model):
    """One version of the school's rules. A change is a new version.

    A booking keeps the version under which it was made. Field names and units are those of
    domain.policy.Policy.
    """

    version = models.PositiveIntegerField()
    in_force_from = models.DateTimeField()
    lead_time_minutes = models.PositiveIntegerField(default=12 * 60)
    horizon_days = models.PositiveIntegerField(default=60)
    notice_minutes = models.PositiveIntegerField(default=24 * 60)
    open_consultations = models.PositiveIntegerField(default=2)
    changeover_short_minutes = models.PositiveIntegerField(default=5)
    changeover_long_minutes = models.PositiveIntegerField(default=10)
    minor_opens = models.PositiveIntegerField(
        default=8 * 60, help_text="Minutes of the day on the minor's clock."
    )
    minor_closes = models.PositiveIntegerField(
        default=21 * 60, help_text="Minutes of the day on the minor's clock, end included."
    )
    run_minutes = models.PositiveIntegerField(default=120)
    run_gap_minutes = models.PositiveIntegerField(default=15)
    day_minutes = models.PositiveIntegerField(default=6 * 60)
    week_minutes = models.PositiveIntegerField(default=25 * 60)
    night_rest_minutes = models.PositiveIntegerField(default=11 * 60)
    make_ups_a_term = models.PositiveSmallIntegerField(
        default=2, help_text="For a family’s own absences; what the school calls off has no limit."
    )
    make_up_use_by_days = models.PositiveSmallIntegerField(
        default=90, help_text="Days after the missed lesson."
    )

    class Meta:
        ordering = ["-version"]
        verbose_name_plural = "studio policies"
        constraints = [
            models.UniqueConstraint(fields=["version"], name="policy_version_once"),
        ]

    def __str__(self) -> str:
        return f"policy {self.version}"

    def rules(self) -> Policy:
        """The same rules for domain/."""
        return Policy(**{name: getattr(self, name) for name in Policy.__slots__})


ONE_ON_ONE = [kind.value for kind in Kind if kind.is_one_on_one]
"""The kinds of offering that are for one student."""


class OfferingQuerySet(models.QuerySet["Offering"]):
    """Offerings by state and kind."""

    def bookable(self) -> "OfferingQuerySet":
        """Offerings that the school has open."""
        return self.filter(is_open=True)

    def for_groups(self) -> "OfferingQuerySet":
        """Offerings for several students at once."""
        return self.exclude(kind__in=ONE_ON_ONE)


class Offering(models.Model):
    """A kind of meeting with a length.

    `step_minutes` is 0 for the usual step: on a window grid the length plus its changeover, on a
    clock grid 30. A packed grid does not read it.
    """

    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=16, choices=choices_of(Kind))
    summary = models.CharField(max_length=300, blank=True)
    minutes = models.PositiveSmallIntegerField(
        validators=[MinValueValidator(5), MaxValueValidator(480)]
    )
    grid = models.CharField(max_length=8, choices=choices_of(Grid), default=Grid.CLOCK)
    step_minutes = models.PositiveSmallIntegerField(default=0, validators=[MaxValueValidator(240)])
    changeover_minutes = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        help_text="Empty: by length, as the studio policy says.",
        validators=[MaxValueValidator(120)],
    )
    is_open = models.BooleanField(default=True)
    version = models.PositiveIntegerField(
        default=1, editable=False, help_text="Rises with every change, and with who teaches it."
    )
    instructors: "models.ManyToManyField[Instructor, Teaches]" = models.ManyToManyField(
        Instructor, through="Teaches", related_name="offerings"
    )

    objects = OfferingQuerySet.as_manager()

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["name"], name="offering_name_once"),
            models.CheckConstraint(condition=Q(kind__in=values_of(Kind)), name="offering_kind"),
            models.CheckConstraint(condition=Q(grid__in=values_of(Grid)), name="offering_grid"),
            models.CheckConstraint(
                condition=Q(minutes__gte=5, minutes__lte=480), name="offering_minutes"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_one_on_one(self) -> bool:
        return Kind(self.kind).is_one_on_one

    @property
    def is_private_lesson(self) -> bool:
        return self.kind == Kind.PRIVATE_LESSON


class TeachesQuerySet(models.QuerySet["Teaches"]):
    """Who teaches what, by person and level."""

    def by_people_here(self) -> "TeachesQuerySet":
        """Rows of instructors who teach here now and have an open account."""
        return self.filter(instructor__is_active=True, instructor__user__is_active=True)

    def at_level(self, level: int) -> "TeachesQuerySet":
        """Rows that hold this level."""
        return self.filter(lowest_level__lte=level, highest_level__gte=level)


class Teaches(models.Model):
    """An instructor teaches an offering to students of these levels, both ends included."""

    instructor = models.ForeignKey(Instructor, on_delete=models.PROTECT, related_name="teaches")
    offering = models.ForeignKey(Offering, on_delete=models.PROTECT, related_name="taught_by")
    lowest_level = models.PositiveSmallIntegerField(default=1)
    highest_level = models.PositiveSmallIntegerField(default=10)

    objects = TeachesQuerySet.as_manager()

    class Meta:
        ordering = ["id"]
        verbose_name_plural = "teaches"
        constraints = [
            models.UniqueConstraint(fields=["instructor", "offering"], name="teaches_once"),
            models.CheckConstraint(
                condition=Q(
                    lowest_level__gte=1, highest_level__lte=10, lowest_level__lte=F("highest_level")
                ),
                name="teaches_levels",
            ),
        ]

    def __str__(self) -> str:
        return (
            f"{self.instructor}: {self.offering}, levels {self.lowest_level}–{self.highest_level}"
        )


class Technique(models.Model):
    """One line of what an assessment of this offering looks at, in the school's own words."""

    offering = models.ForeignKey(Offering, on_delete=models.CASCADE, related_name="techniques")
    name = models.CharField(max_length=40)
    position = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["offering", "position", "id"]
        constraints = [
            models.UniqueConstraint(fields=["offering", "name"], name="technique_once"),
        ]

    def __str__(self) -> str:
        return self.name
