"""Places in meetings: bookings, what the student writes before, waiting places, and what happened."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from accounts.models import Instructor, Student
from bookings.domain.vocabulary import Attendance, Ended, PartStat, PlaceKind, Standing
from bookings.models.assessments import Assessment
from bookings.models.meetings import Meeting
from bookings.models.offerings import StudioPolicy

LIVE = (Standing.HELD.value, Standing.OFFERED.value)
_ENDED = [(why.value, why.value) for why in Ended]


class WaitingPlace(models.Model):
    """A student's place in the queue of one meeting, in order of joining."""

    meeting = models.ForeignKey(Meeting, on_delete=models.PROTECT, related_name="waiting")
    student = models.ForeignKey(Student, on_delete=models.PROTECT, related_name="waiting")
    place_kind = models.CharField(
        max_length=8, choices=[(k.value, k.value) for k in PlaceKind], default=PlaceKind.PLAYER
    )
    joined_at = models.DateTimeField()
    joined_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_why = models.CharField(max_length=20, choices=_ENDED, blank=True)
    rank: int | None
    """No column: `queries.waiting.ranked` reads it along."""
    was_told: bool
    """No column: `queries.waiting.with_told` reads it along."""

    class Meta:
        ordering = ["joined_at", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["meeting", "student", "place_kind"],
                condition=Q(ended_at__isnull=True),
                name="waiting_once",
            ),
            models.CheckConstraint(
                condition=Q(place_kind__in=[k.value for k in PlaceKind]), name="waiting_place_kind"
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True, ended_why="")
                | (Q(ended_at__isnull=False) & Q(ended_why__in=[w.value for w in Ended])),
                name="waiting_end_says_why",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.student} waits for {self.meeting}"


class Booking(models.Model):
    """One student's place in a meeting (ATTENDEE). HELD and OFFERED are live and counted; an offer does not hold her time.

    The period is the meeting's, copied by the one operation that moves it, so that one row can guard the student's time.
    """

    meeting = models.ForeignKey(Meeting, on_delete=models.PROTECT, related_name="bookings")
    student = models.ForeignKey(Student, on_delete=models.PROTECT, related_name="bookings")
    place_kind = models.CharField(
        max_length=8, choices=[(k.value, k.value) for k in PlaceKind], default=PlaceKind.PLAYER
    )
    standing = models.CharField(max_length=8, choices=[(s.value, s.value) for s in Standing])
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    is_flagged = models.BooleanField(
        default=False,
        help_text="A new zone rule put its student into two meetings at once; both are kept.",
    )
    policy = models.ForeignKey(StudioPolicy, on_delete=models.PROTECT, related_name="+")
    booked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    booked_at = models.DateTimeField()
    answer_by = models.DateTimeField(null=True, blank=True)
    waiting_place = models.OneToOneField(
        WaitingPlace, null=True, blank=True, on_delete=models.PROTECT, related_name="offer"
    )
    assessment = models.ForeignKey(
        Assessment, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    partstat = models.CharField(
        max_length=12, choices=[(p.value, p.value) for p in PartStat], default=PartStat.NEEDS_ACTION
    )
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_why = models.CharField(max_length=20, choices=_ENDED, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["starts_at", "id"]
        indexes = [models.Index(fields=["student", "starts_at"], name="booking_student_start")]
        constraints = [
            models.UniqueConstraint(
                fields=["meeting", "student", "place_kind"],
                condition=Q(standing__in=LIVE),
                name="booking_once",
            ),
            models.CheckConstraint(
                condition=Q(standing__in=[s.value for s in Standing]), name="booking_standing"
            ),
            models.CheckConstraint(
                condition=Q(place_kind__in=[k.value for k in PlaceKind]), name="booking_place_kind"
            ),
            models.CheckConstraint(condition=Q(starts_at__lt=F("ends_at")), name="booking_order"),
            models.CheckConstraint(
                condition=~Q(standing=Standing.OFFERED) | Q(answer_by__isnull=False),
                name="offer_says_answer_by",
            ),
            models.CheckConstraint(
                condition=(Q(standing__in=LIVE) & Q(ended_at__isnull=True, ended_why=""))
                | (
                    Q(standing=Standing.ENDED, ended_at__isnull=False)
                    & Q(ended_why__in=[w.value for w in Ended])
                ),
                name="booking_end_says_why",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.student} in {self.meeting}"

    @property
    def is_live(self) -> bool:
        return self.standing in LIVE


class Intake(models.Model):
    """What the student writes before a meeting. Questions and recordings are lists of short texts, questions ranked, three at most."""

    booking = models.OneToOneField(Booking, on_delete=models.CASCADE, related_name="intake")
    questions = models.JSONField(default=list, blank=True)
    pieces = models.CharField(max_length=500, blank=True)
    recordings = models.JSONField(default=list, blank=True)
    obstacle = models.CharField(max_length=500, blank=True)
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["booking"]

    def __str__(self) -> str:
        return f"intake of {self.booking}"


class Mark(models.Model):
    """What happened to one booking: a line of the register."""

    booking = models.OneToOneField(Booking, on_delete=models.PROTECT, related_name="mark")
    attendance = models.CharField(max_length=24, choices=[(a.value, a.value) for a in Attendance])
    marked_by = models.ForeignKey(
        Instructor, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    marked_at = models.DateTimeField()

    class Meta:
        ordering = ["booking"]
        constraints = [
            models.CheckConstraint(
                condition=Q(attendance__in=[a.value for a in Attendance]), name="mark_attendance"
            )
        ]

    def __str__(self) -> str:
        return f"{self.booking}: {self.attendance}"
