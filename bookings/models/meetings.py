"""Meetings: one thing at one time. In a calendar each is a VEVENT."""

import uuid
from datetime import datetime

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from timezone_field import TimeZoneField

from accounts.models import Instructor
from bookings.domain.vocabulary import MeetingStatus, PlaceKind
from bookings.models.choices import choices_of, values_of
from bookings.models.offerings import ONE_ON_ONE, Offering
from bookings.models.terms import WeeklyPlace


def organizer_now() -> str:
    """The school's address for calendars, as it is set today.

    An address with {key} gives each recipient a mailbox of their own (outbox.mailboxes).
    """
    address: str = settings.REPLY_ADDRESS or settings.ORGANIZER_EMAIL
    return address


class MeetingQuerySet(models.QuerySet["Meeting"]):
    """Meetings by state, time and people."""

    def not_proposed(self) -> "MeetingQuerySet":
        """Meetings that somebody has agreed to, called off or not."""
        return self.filter(is_proposed=False)

    def holding_time(self) -> "MeetingQuerySet":
        """Meetings for which the instructor's time is kept: proposed ones too."""
        return self.exclude(status=MeetingStatus.CANCELLED)

    def not_called_off(self) -> "MeetingQuerySet":
        """Meetings that take place, have begun or are over."""
        return self.not_proposed().exclude(status=MeetingStatus.CANCELLED)

    def undecided(self) -> "MeetingQuerySet":
        """Group meetings with a minimum to run, of which nobody has decided yet that they run."""
        return self.not_proposed().filter(status=MeetingStatus.TENTATIVE)

    def called_off(self) -> "MeetingQuerySet":
        """Meetings that do not take place."""
        return self.not_proposed().filter(status=MeetingStatus.CANCELLED)

    def ahead(self, now: datetime) -> "MeetingQuerySet":
        """Meetings that have not begun."""
        return self.filter(starts_at__gt=now)

    def ending_after(self, instant: datetime) -> "MeetingQuerySet":
        """Meetings that are not over at this instant."""
        return self.filter(ends_at__gt=instant)

    def taught_by(self, instructor: Instructor | int | None) -> "MeetingQuerySet":
        """The meetings of this instructor, who may be given by id; none for None."""
        return self.filter(instructor=instructor)

    def one_on_one(self) -> "MeetingQuerySet":
        """Consultations and private lessons."""
        return self.filter(offering__kind__in=ONE_ON_ONE)

    def for_groups(self) -> "MeetingQuerySet":
        """Group meetings and masterclasses."""
        return self.exclude(offering__kind__in=ONE_ON_ONE)


class Meeting(models.Model):
    """The wall time in `time_zone` is what people were promised.

    `starts_at` and the other instants follow from it by the rules of `tzdata_version`. `held_until`
    is the end plus changeover; the instructor is not free before. `taken` and `listeners_taken`
    count live bookings and change only together with them, under the meeting's lock. `organizer` is
    the school's address when the meeting was made: a calendar takes a changed ORGANIZER for another
    meeting (RFC 5546 section 3.2.2.5). A meeting with a `minimum` is TENTATIVE until it is decided.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    offering = models.ForeignKey(Offering, on_delete=models.PROTECT, related_name="meetings")
    instructor = models.ForeignKey(Instructor, on_delete=models.PROTECT, related_name="meetings")
    title = models.CharField(
        max_length=120, blank=True, help_text="A group meeting's theme; empty for a one-on-one."
    )
    status = models.CharField(
        max_length=9,
        choices=choices_of(MeetingStatus),
        default=MeetingStatus.CONFIRMED,
    )
    is_proposed = models.BooleanField(
        default=False,
        help_text="Held for a student who has not taken this time; in nobody's calendar.",
    )
    wall_on = models.DateField()
    wall_at = models.TimeField()
    fold = models.PositiveSmallIntegerField(default=0)
    time_zone = TimeZoneField()
    minutes = models.PositiveSmallIntegerField()
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    held_until = models.DateTimeField()
    tzdata_version = models.CharField(max_length=8)
    is_flagged = models.BooleanField(
        default=False,
        help_text="A new zone rule put it where a person has to look; nothing was given up.",
    )
    flagged_why = models.CharField(
        max_length=40,
        blank=True,
        help_text="What stands against it: words of Clash, with spaces between.",
    )
    organizer = models.CharField(max_length=254, default=organizer_now, editable=False)
    join_address = models.URLField(max_length=300, blank=True)
    places = models.PositiveIntegerField(default=1)
    taken = models.PositiveIntegerField(default=0)
    listener_places = models.PositiveIntegerField(default=0)
    listeners_taken = models.PositiveIntegerField(default=0)
    minimum = models.PositiveIntegerField(
        null=True, blank=True, help_text="Players without whom it does not run."
    )
    decide_by = models.DateTimeField(
        null=True, blank=True, help_text="When it is called off if fewer players have a place."
    )
    lowest_level = models.PositiveSmallIntegerField(
        default=1, help_text="Of the players of a group meeting; listeners are of any level."
    )
    highest_level = models.PositiveSmallIntegerField(default=10)
    players_are_chosen = models.BooleanField(
        default=False, help_text="Families apply, and an admin chooses among them."
    )
    choice_closed_at = models.DateTimeField(null=True, blank=True)
    sequence = models.PositiveIntegerField(default=0, help_text="RFC 5545 section 3.8.7.4.")
    version = models.PositiveIntegerField(default=1)
    made_at = models.DateTimeField()
    changed_at = models.DateTimeField()
    called_off_why = models.CharField(max_length=200, blank=True)
    weekly_place = models.ForeignKey(
        WeeklyPlace, null=True, blank=True, on_delete=models.PROTECT, related_name="meetings"
    )

    lessons: int | None
    so_far: int | None
    is_to_wrap_up: bool
    """Not columns: `queries.today` annotates them."""

    objects = MeetingQuerySet.as_manager()

    class Meta:
        ordering = ["starts_at", "id"]
        indexes = [
            models.Index(fields=["instructor", "starts_at"], name="meeting_instructor_start"),
            models.Index(fields=["starts_at"], name="meeting_start"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(status__in=values_of(MeetingStatus)), name="meeting_status"
            ),
            models.CheckConstraint(
                condition=~Q(status=MeetingStatus.TENTATIVE)
                | Q(is_proposed=True)
                | Q(minimum__isnull=False),
                name="meeting_tentative_is_open",
            ),
            models.CheckConstraint(
                condition=Q(minimum__isnull=True, decide_by__isnull=True)
                | Q(minimum__isnull=False, minimum__gte=1, decide_by__isnull=False)
                & (~Q(status=MeetingStatus.TENTATIVE) | Q(minimum__lte=F("places"))),
                name="meeting_minimum",
            ),
            models.CheckConstraint(
                condition=Q(starts_at__lt=F("ends_at"), ends_at__lte=F("held_until")),
                name="meeting_order",
            ),
            models.CheckConstraint(condition=Q(fold__lte=1), name="meeting_fold"),
            models.CheckConstraint(
                condition=Q(choice_closed_at__isnull=True) | Q(players_are_chosen=True),
                name="meeting_choice",
            ),
            models.CheckConstraint(
                condition=Q(
                    lowest_level__gte=1, highest_level__lte=10, lowest_level__lte=F("highest_level")
                ),
                name="meeting_levels",
            ),
            models.CheckConstraint(condition=Q(taken__lte=F("places")), name="meeting_places"),
            models.CheckConstraint(
                condition=Q(listeners_taken__lte=F("listener_places")),
                name="meeting_listener_places",
            ),
        ]

    def __str__(self) -> str:
        name = self.title or self.offering.name
        return f"{name}, {self.wall_on} {self.wall_at:%H:%M} {self.time_zone}"

    @property
    def is_cancelled(self) -> bool:
        return self.status == MeetingStatus.CANCELLED

    @property
    def is_undecided(self) -> bool:
        """Whether it has a minimum to run, and nobody has decided yet that it runs."""
        return self.status == MeetingStatus.TENTATIVE and not self.is_proposed

    @property
    def zone(self) -> str:
        """The IANA name of the zone of the promised wall time."""
        return str(self.time_zone)

    def places_for(self, place_kind: PlaceKind) -> int:
        """How many places of this kind the meeting has."""
        return self.listener_places if place_kind == PlaceKind.LISTENER else self.places

    def taken_for(self, place_kind: PlaceKind) -> int:
        """How many places of this kind are held or offered."""
        return self.listeners_taken if place_kind == PlaceKind.LISTENER else self.taken

    def is_full_for(self, place_kind: PlaceKind) -> bool:
        """Whether every place of this kind is held or offered."""
        return self.taken_for(place_kind) >= self.places_for(place_kind)
