"""Places in meetings: bookings."""

from collections.abc import Iterable
from datetime import date, datetime

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from accounts.models import Instructor, Student
from bookings.domain.planning.agenda import Early
from bookings.domain.vocabulary import MISSED, Ended, PartStat, PlaceKind, Standing
from bookings.models.assessments import Assessment
from bookings.models.choices import choices_of, values_of
from bookings.models.meetings import Meeting
from bookings.models.offerings import StudioPolicy
from bookings.models.proposed_times import ProposedTimes
from bookings.models.waiting_places import WaitingPlace

LIVE = (Standing.HELD.value, Standing.OFFERED.value)


class BookingQuerySet(models.QuerySet["Booking"]):
    """Bookings by standing, student and time."""

    def live(self) -> "BookingQuerySet":
        """Held places and those offered from a waiting list; no proposed times."""
        return self.filter(
            Q(standing=Standing.HELD) | Q(standing=Standing.OFFERED, proposed__isnull=True)
        )

    def held(self) -> "BookingQuerySet":
        """Places that are the student's."""
        return self.filter(standing=Standing.HELD)

    def offered(self) -> "BookingQuerySet":
        """Places from a waiting list that are not accepted yet."""
        return self.filter(standing=Standing.OFFERED, proposed__isnull=True)

    def proposed(self) -> "BookingQuerySet":
        """Proposed times that may still be taken."""
        return self.filter(standing=Standing.OFFERED, proposed__isnull=False)

    def not_proposed(self) -> "BookingQuerySet":
        """All but proposed times that nobody has taken, open or ended."""
        return self.filter(Q(proposed__isnull=True) | Q(answer_by__isnull=True))

    def of(self, student: Student | int) -> "BookingQuerySet":
        """The places of this student, who may be given by id."""
        return self.filter(student=student)

    def in_meetings(self, meetings: Iterable[Meeting | int]) -> "BookingQuerySet":
        """The places in these meetings, which may be given by id."""
        return self.filter(meeting__in=meetings)

    def ahead(self, now: datetime) -> "BookingQuerySet":
        """Places in meetings that have not begun."""
        return self.filter(starts_at__gt=now)

    def ending_after(self, instant: datetime) -> "BookingQuerySet":
        """Places in meetings that are not over at this instant."""
        return self.filter(ends_at__gt=instant)

    def seen(self, now: datetime) -> "BookingQuerySet":
        """Held places in meetings that have begun, without those the register says were missed."""
        return self.held().filter(starts_at__lte=now).exclude(mark__attendance__in=MISSED)

    def taught_by(self, instructor: Instructor | int) -> "BookingQuerySet":
        """The places in meetings of this instructor, who may be given by id."""
        return self.filter(meeting__instructor=instructor)

    def with_details(self) -> "BookingQuerySet":
        """Each with its policy, its student and its whole meeting, in the same query."""
        return self.select_related(
            "policy", "student__user", "meeting__offering", "meeting__instructor__user"
        )

    def with_student(self) -> "BookingQuerySet":
        """Each with its policy and its student, in the same query."""
        return self.select_related("policy", "student__user")

    def student_ids(self) -> models.QuerySet["Booking", int]:
        """The ids of the students."""
        return self.values_list("student_id", flat=True)


class Booking(models.Model):
    """One student's place in a meeting (ATTENDEE).

    HELD and OFFERED are live and counted, but an offer does not hold the student's time. The period
    is a copy of the meeting's, so that one row can guard the student's time; the operations that
    move a meeting write both.
    """

    meeting = models.ForeignKey(Meeting, on_delete=models.PROTECT, related_name="bookings")
    student = models.ForeignKey(Student, on_delete=models.PROTECT, related_name="bookings")
    place_kind = models.CharField(
        max_length=8, choices=choices_of(PlaceKind), default=PlaceKind.PLAYER
    )
    standing = models.CharField(max_length=8, choices=choices_of(Standing))
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
    proposed = models.ForeignKey(
        ProposedTimes, null=True, blank=True, on_delete=models.PROTECT, related_name="times"
    )
    makes_up = models.ForeignKey(
        "OwedLesson",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        db_index=False,  # make_up_once is one
        related_name="make_ups",
        help_text="The owed lesson that this one settles.",
    )
    decline_by = models.DateTimeField(
        null=True,
        blank=True,
        help_text="Until then the family may decline, free of charge, what the school booked.",
    )
    assessment = models.ForeignKey(
        Assessment, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    leaves_by = models.DateTimeField(
        null=True,
        blank=True,
        help_text="In a masterclass: by then the player’s turn has to be over.",
    )
    turn = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="The player’s place in the published order, from 1."
    )
    turn_minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    turn_early = models.CharField(
        max_length=16,
        choices=choices_of(Early),
        blank=True,
        help_text="Why they play before somebody of a lower level.",
    )
    burden = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        help_text="What the hour costs the student, 0-20, as the plan of the group read it.",
    )
    partstat = models.CharField(
        max_length=12, choices=choices_of(PartStat), default=PartStat.NEEDS_ACTION
    )
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_why = models.CharField(max_length=20, choices=choices_of(Ended), blank=True)
    version = models.PositiveIntegerField(default=1)

    next_at: datetime | None
    knows_student: bool
    """Not columns: `access.access_wrap_up` annotates them."""
    goal_on: date | None
    """Not a column: `queries.today` annotates it."""
    exchange_asked: int | None
    """Not a column: `queries.lessons` annotates it."""

    objects = BookingQuerySet.as_manager()

    class Meta:
        ordering = ["starts_at", "id"]
        indexes = [models.Index(fields=["student", "starts_at"], name="booking_student_start")]
        constraints = [
            models.UniqueConstraint(
                fields=["meeting", "student", "place_kind"],
                condition=Q(standing__in=LIVE),
                name="booking_once",
            ),
            models.UniqueConstraint(fields=["makes_up"], name="make_up_once"),
            models.CheckConstraint(
                condition=Q(standing__in=values_of(Standing)), name="booking_standing"
            ),
            models.CheckConstraint(
                condition=Q(place_kind__in=values_of(PlaceKind)), name="booking_place_kind"
            ),
            models.CheckConstraint(condition=Q(starts_at__lt=F("ends_at")), name="booking_order"),
            models.CheckConstraint(
                condition=~Q(standing=Standing.OFFERED) | Q(answer_by__isnull=False),
                name="offer_says_answer_by",
            ),
            models.CheckConstraint(
                condition=Q(turn__isnull=True)
                | Q(turn__gte=1, turn_minutes__gte=1, place_kind=PlaceKind.PLAYER),
                name="booking_turn_is_a_player_s",
            ),
            models.CheckConstraint(
                condition=Q(turn_early="") | Q(turn_early__in=values_of(Early)),
                name="booking_turn_early_word",
            ),
            models.CheckConstraint(
                condition=(Q(standing__in=LIVE) & Q(ended_at__isnull=True, ended_why=""))
                | (
                    Q(standing=Standing.ENDED, ended_at__isnull=False)
                    & Q(ended_why__in=values_of(Ended))
                ),
                name="booking_end_says_why",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.student} in {self.meeting}"

    @property
    def use_by(self) -> date | None:
        """The last date, on the student's clock, on which a make-up lesson may begin; None for any
        other.
        """
        return self.makes_up.use_by if self.makes_up is not None else None

    @property
    def is_live(self) -> bool:
        """Whether the place is held or offered."""
        return self.standing in LIVE
