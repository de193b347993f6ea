"""Places on waiting lists."""

from collections.abc import Iterable

from django.conf import settings
from django.db import models
from django.db.models import Q

from accounts.models import Student
from bookings.domain.vocabulary import Ended, PlaceKind
from bookings.models.choices import choices_of, values_of
from bookings.models.meetings import Meeting


class WaitingPlaceQuerySet(models.QuerySet["WaitingPlace"]):
    """Waiting places by state and meeting."""

    def waiting(self) -> "WaitingPlaceQuerySet":
        """Places that have not ended, with or without an offer."""
        return self.filter(ended_at__isnull=True)

    def without_offer(self) -> "WaitingPlaceQuerySet":
        """Places to which no place in the meeting is offered."""
        return self.filter(offer__isnull=True)

    def for_meetings(self, meetings: Iterable[Meeting | int]) -> "WaitingPlaceQuerySet":
        """The waiting lists of these meetings, which may be given by id."""
        return self.filter(meeting__in=meetings)

    def student_ids(self) -> models.QuerySet["WaitingPlace", int]:
        """The ids of the students."""
        return self.values_list("student_id", flat=True)


class WaitingPlace(models.Model):
    """A student's place on the waiting list of one meeting, in order of joining.

    Where the school chooses the players, it is their application: `piece` and `recording` are what
    the family wrote with it.
    """

    meeting = models.ForeignKey(Meeting, on_delete=models.PROTECT, related_name="waiting")
    student = models.ForeignKey(Student, on_delete=models.PROTECT, related_name="waiting")
    place_kind = models.CharField(
        max_length=8, choices=choices_of(PlaceKind), default=PlaceKind.PLAYER
    )
    joined_at = models.DateTimeField()
    joined_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    is_next = models.BooleanField(
        default=False,
        help_text="An exception of an admin’s: the next free place is held for this student.",
    )
    piece = models.CharField(max_length=200, blank=True)
    recording = models.CharField(max_length=300, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_why = models.CharField(max_length=20, choices=choices_of(Ended), blank=True)
    rank: int | None
    """Not a column: `queries.waiting.ranked` annotates it."""
    was_told: bool
    """Not a column: `queries.waiting.with_told` annotates it."""

    objects = WaitingPlaceQuerySet.as_manager()

    class Meta:
        ordering = ["joined_at", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["meeting", "student", "place_kind"],
                condition=Q(ended_at__isnull=True),
                name="waiting_once",
            ),
            models.UniqueConstraint(
                fields=["meeting", "place_kind"],
                condition=Q(ended_at__isnull=True, is_next=True),
                name="waiting_next_once",
            ),
            models.CheckConstraint(
                condition=Q(place_kind__in=values_of(PlaceKind)), name="waiting_place_kind"
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True, ended_why="")
                | (Q(ended_at__isnull=False) & Q(ended_why__in=values_of(Ended))),
                name="waiting_end_says_why",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.student} waits for {self.meeting}"
