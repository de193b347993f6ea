"""Terms, their breaks, and the weekly places that students take for a term."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from timezone_field import TimeZoneField

from accounts.models import Instructor, Student
from bookings.domain.terms import TermDates
from bookings.domain.vocabulary import Ended
from bookings.models.choices import choices_of, values_of
from bookings.models.offerings import Offering, StudioPolicy


class Term(models.Model):
    """The number of lessons promised, and the first and last date on which they are given.

    Dates are those of the instructor's zone.
    """

    name = models.CharField(max_length=80)
    first_on = models.DateField()
    last_on = models.DateField()
    lessons_promised = models.PositiveSmallIntegerField()
    flex_last_on = models.DateField(
        null=True,
        blank=True,
        help_text="The last day of its flex week, until which make-up lessons may be taken.",
    )
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["first_on", "name"]
        constraints = [
            models.UniqueConstraint(fields=["name"], name="term_name_once"),
            models.CheckConstraint(condition=Q(first_on__lte=F("last_on")), name="term_order"),
            models.CheckConstraint(
                condition=Q(flex_last_on__isnull=True) | Q(flex_last_on__gte=F("first_on")),
                name="term_flex_order",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def dates(self) -> TermDates:
        """The same dates for domain/."""
        return TermDates(
            self.first_on,
            self.last_on,
            tuple((row.first_on, row.last_on) for row in self.breaks.all()),
        )


class TermBreak(models.Model):
    """Days of a term without lessons, both ends included."""

    term = models.ForeignKey(Term, on_delete=models.CASCADE, related_name="breaks")
    first_on = models.DateField()
    last_on = models.DateField()
    name = models.CharField(max_length=80, blank=True)

    class Meta:
        ordering = ["first_on", "id"]
        constraints = [
            models.CheckConstraint(condition=Q(first_on__lte=F("last_on")), name="term_break_order")
        ]

    def __str__(self) -> str:
        return self.name or f"{self.first_on} to {self.last_on}"


class WeeklyPlaceQuerySet(models.QuerySet["WeeklyPlace"]):
    """Weekly places by state."""

    def not_ended(self) -> "WeeklyPlaceQuerySet":
        """Places that nobody has given up."""
        return self.filter(ended_at__isnull=True)


class WeeklyPlace(models.Model):
    """A weekday and time of the instructor's week, reserved for a student for a term.

    `weekday` 0 is Monday. `wall_at` is the minute of the day in `time_zone`. `policy` is the
    version under which the place was taken. Its lessons are ordinary meetings. `promised` is how
    many the school has to give: a date that the family gives up, at first or later, lowers it.
    """

    term = models.ForeignKey(Term, on_delete=models.PROTECT, related_name="weekly_places")
    student = models.ForeignKey(Student, on_delete=models.PROTECT, related_name="weekly_places")
    instructor = models.ForeignKey(
        Instructor, on_delete=models.PROTECT, related_name="weekly_places"
    )
    offering = models.ForeignKey(Offering, on_delete=models.PROTECT, related_name="weekly_places")
    weekday = models.PositiveSmallIntegerField()
    wall_at = models.PositiveSmallIntegerField()
    time_zone = TimeZoneField()
    promised = models.PositiveSmallIntegerField(default=0)
    policy = models.ForeignKey(StudioPolicy, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_why = models.CharField(max_length=20, choices=choices_of(Ended), blank=True)
    version = models.PositiveIntegerField(default=1)

    objects = WeeklyPlaceQuerySet.as_manager()

    class Meta:
        ordering = ["weekday", "wall_at", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(weekday__lte=6, wall_at__lt=1440), name="weekly_place_time"
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True, ended_why="")
                | (Q(ended_at__isnull=False) & Q(ended_why__in=values_of(Ended))),
                name="weekly_place_end_says_why",
            ),
        ]

    def __str__(self) -> str:
        time = f"weekday {self.weekday}, minute {self.wall_at}, {self.time_zone}"
        return f"{self.offering} of {self.student}, {time}"

    @property
    def zone(self) -> str:
        """The IANA name of the zone of the promised wall time."""
        return str(self.time_zone)
